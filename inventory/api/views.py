"""Parts, places and the ledger over HTTP."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.http import FileResponse
from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.bulk import BulkCreates
from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.filters import StrictFilterSet
from contractor.api.importing import Imports, Lookup
from contractor.api.resources import Changes, Creates
from contractor.errors import InvalidValueError, NotFoundError
from inventory import services
from inventory.api import shapes
from inventory.api.roles import BUYERS, LOADERS, READERS, STOCK
from inventory.locks import place_key
from inventory.models import (
    Bin,
    LedgerEntry,
    Lot,
    Offcut,
    Part,
    Place,
    ReorderRule,
    StockLength,
    StockLevel,
    Supplier,
    SupplierPart,
)


class PartViews(Imports, BulkCreates, Exports, Changes):
    queryset = Part.objects.all()
    serializer_class = shapes.PartShape
    change_shape = shapes.ChangePartShape
    import_keys = (("company", "code"),)
    company_path = "company"
    area = "inventory"
    ordering_fields = ("code",)
    filterset_fields = ("code", "kind", "role", "profile", "grade", "is_active")
    access = {
        "list": READERS | LOADERS,
        "export": READERS | LOADERS,
        "retrieve": READERS | LOADERS,
        "create": STOCK,
        "bulk": STOCK,
        "partial_update": STOCK,
        "load_catalogue": BUYERS,
        "import_rows": STOCK,
    }

    @command(body=shapes.LoadCatalogueShape, answer=shapes.LoadedShape, detail=False)
    def load_catalogue(self, order: Order) -> Response:
        """Create or update parts and prices from a parts-catalogue/1 document."""
        count = services.load_catalogue(
            order.values["document"],
            company_pk=order.values["company"].pk,
            supplier_name=order.values["supplier"],
        )
        return Response({"parts": count})


class SupplierViews(Exports, Creates, Changes):
    queryset = Supplier.objects.all()
    serializer_class = shapes.SupplierShape
    company_path = "company"
    area = "inventory"
    filterset_fields = ("name",)
    access = {
        "list": READERS,
        "export": READERS,
        "retrieve": READERS,
        "create": BUYERS,
        "partial_update": BUYERS,
    }


class SupplierPriceViews(Imports, Exports):
    queryset = SupplierPart.objects.select_related("supplier")
    serializer_class = shapes.SupplierPartShape
    import_keys = (("length", "supplier", "part"),)
    import_lookups = {
        "supplier_name": Lookup("supplier", "name"),
        "part_code": Lookup("part", "code"),
    }
    company_path = "supplier__company"
    area = "inventory"
    default_ordering = "-id"
    expandable = {"supplier": shapes.SupplierShape, "part": shapes.PartShape}
    filterset_fields = ("supplier", "part")
    access = {
        "list": READERS,
        "export": READERS,
        "retrieve": READERS,
        "create": BUYERS,
        "import_rows": BUYERS,
    }

    def create_row(self, values: dict[str, Any]) -> SupplierPart:
        """A price of the same supplier, part and length is replaced."""
        return services.set_price(**values)

    def import_change(
        self, row: SupplierPart, differing: dict[str, Any], values: dict[str, Any]
    ) -> SupplierPart:
        columns = ("pack_size", "pack_cents", "minimum_packs", "lead_days")
        kept: dict[str, Any] = {name: getattr(row, name) for name in columns} | differing
        return services.set_price(
            supplier=row.supplier, part=row.part, length_ticks=row.length_ticks, **kept
        )


class ReorderRuleViews(Exports, Creates):
    queryset = ReorderRule.objects.all()
    serializer_class = shapes.ReorderRuleShape
    branch_path = "branch"
    area = "inventory"
    default_ordering = "-id"
    filterset_fields = ("branch", "part")
    access = {"list": READERS, "export": READERS, "retrieve": READERS, "create": STOCK}

    def create_row(self, values: dict[str, Any]) -> ReorderRule:
        """A rule of the same branch, part and length is replaced."""
        return services.set_reorder_rule(**values)


class BinViews(Exports, Creates):
    queryset = Bin.objects.all()
    serializer_class = shapes.BinShape
    branch_path = "branch"
    area = "inventory"
    default_ordering = "-id"
    filterset_fields = ("branch", "name")
    access = {
        "list": READERS | LOADERS,
        "export": READERS | LOADERS,
        "retrieve": READERS | LOADERS,
        "create": STOCK,
    }


class LotViews(Exports):
    queryset = Lot.objects.select_related("part")
    serializer_class = shapes.LotShape
    company_path = "part__company"
    area = "inventory"
    default_ordering = "-id"
    filterset_fields = ("part", "number")
    access = {
        "list": READERS,
        "export": READERS,
        "retrieve": READERS,
        "certificate": READERS,
        "attach_certificate": STOCK,
    }

    @extend_schema(responses={(200, "application/octet-stream"): bytes})
    @action(detail=True)
    def certificate(self, request: Request, pk: str) -> FileResponse:
        """The mill certificate as it was scanned."""
        lot = self.get_object()
        if not lot.certificate:
            raise NotFoundError("This lot has no certificate.", remedy="Attach one.")
        return FileResponse(lot.certificate.open("rb"), as_attachment=True)

    @extend_schema(
        request={
            "multipart/form-data": {
                "type": "object",
                "required": ["file"],
                "properties": {"file": {"type": "string", "format": "binary"}},
            }
        },
        responses=shapes.LotShape,
    )
    @action(
        detail=True,
        methods=["post"],
        url_path="attach-certificate",
        parser_classes=[MultiPartParser],
    )
    def attach_certificate(self, request: Request, pk: str) -> Response:
        """Store a PDF, PNG or JPEG of at most 10 MB with the lot."""
        lot = self.get_object()
        upload = request.FILES.get("file")
        if upload is None:
            raise InvalidValueError("There is no file.", remedy="Send it as 'file'.")
        return self.answer(services.attach_certificate(lot.pk, upload))


class PlaceViews(Exports):
    """Where stock lies; only services change it."""

    branch_path = "branch"
    area = "inventory"
    default_ordering = "-id"
    expandable = {"part": shapes.PartShape, "bin": shapes.BinShape}
    filterset_fields: tuple[str, ...] = ("branch", "part", "lot", "bin")
    access = {"list": READERS, "export": READERS, "retrieve": READERS, "move_to_bin": STOCK}

    @command(body=shapes.MoveToBinShape, if_match=False)
    def move_to_bin(self, order: Order) -> Place:
        """Put so many into another bin of the branch; answers the place they lie at now."""
        target = order.values["bin"]
        return services.move_to_bin(
            place_key(order.row),
            target.pk if target else None,
            order.values["count"],
            at=timezone.now(),
        )


class StockLevelViews(PlaceViews):
    queryset = StockLevel.objects.all()
    serializer_class = shapes.StockLevelShape


class StockLengthViews(PlaceViews):
    queryset = StockLength.objects.all()
    serializer_class = shapes.StockLengthShape


class OffcutViews(PlaceViews):
    queryset: QuerySet[Offcut] = Offcut.objects.all()
    serializer_class = shapes.OffcutShape
    filterset_fields = ("branch", "part", "lot", "bin", "tag", "on_hand")


class LedgerFilter(StrictFilterSet):
    at_after = filters.IsoDateTimeFilter(field_name="at", lookup_expr="gte")
    at_before = filters.IsoDateTimeFilter(field_name="at", lookup_expr="lt")

    class Meta:
        model = LedgerEntry
        fields = ("branch", "part", "kind", "stock_level", "stock_length", "offcut", "reference")


class LedgerViews(Exports):
    """The ledger; it can be read and that is all."""

    queryset = LedgerEntry.objects.all()
    serializer_class = shapes.LedgerEntryShape
    branch_path = "branch"
    area = "inventory"
    default_ordering = "-id"
    filterset_class = LedgerFilter
    access = {"list": READERS, "export": READERS, "retrieve": READERS}
