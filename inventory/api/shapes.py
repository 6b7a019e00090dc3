"""Shapes of parts, places, the ledger, receipts, orders, counts and transfers."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from rest_framework import serializers

from contractor.api.fields import LengthField, QuantityField, ScopedKeyField
from contractor.api.models import Branch, Company
from contractor.api.schema import quantity_schema
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from inventory.amounts import MOST
from inventory.models import (
    Bin,
    LedgerEntry,
    Lot,
    Offcut,
    Part,
    ReorderRule,
    StockLength,
    StockLevel,
    Supplier,
    SupplierPart,
)

CENTS_MOST = 10**12
LINES_MOST = 500


class BarLengthField(LengthField):
    """The length of a bar or piece; parts that are no bars have none."""

    def __init__(self, **kwargs: Any) -> None:
        if not kwargs.get("read_only"):
            kwargs = {"required": False, "default": 0, "positive": True, **kwargs}
        super().__init__(source="length_ticks", **kwargs)

    def to_representation(self, value: int) -> Any:
        return super().to_representation(value) if value else None


class BarLengthSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    target_class = "inventory.api.shapes.BarLengthField"

    def map_serializer_field(self, auto_schema: Any, direction: str) -> dict[str, Any]:
        length = quantity_schema(
            auto_schema.registry, direction, "length", ["in", "ft", "mm", "cm", "m"], "7'-8 1/2\""
        )
        return length if direction == "request" else {"oneOf": [length, {"type": "null"}]}


def lines(shape: type[StrictSerializer], *, least: int = 1, **kwargs: Any) -> Any:
    """Return a bounded list of ``shape``."""
    build: Any = shape
    return build(many=True, allow_empty=least == 0, max_length=LINES_MOST, **kwargs)


def part_key() -> ScopedKeyField:
    return ScopedKeyField(Part.objects.all(), company_path="company")


def branch_key() -> ScopedKeyField:
    return ScopedKeyField(Branch.objects.all(), branch_path="pk")


def bin_key() -> ScopedKeyField:
    return ScopedKeyField(
        Bin.objects.all(), branch_path="branch", required=False, allow_null=True, default=None
    )


def quantity(**kwargs: Any) -> serializers.IntegerField:
    return serializers.IntegerField(min_value=1, max_value=MOST, **kwargs)


def cents(**kwargs: Any) -> serializers.IntegerField:
    return serializers.IntegerField(min_value=0, max_value=CENTS_MOST, **kwargs)


class PartShape(StrictModelSerializer[Part]):
    company = ScopedKeyField(Company.objects.all(), company_path="pk")
    weight = QuantityField(
        "lb", source="weight_lb", minimum=0, required=False, allow_null=True, default=None
    )
    weight_per_length = QuantityField(
        "lb/ft", source="weight_plf", minimum=0, required=False, allow_null=True, default=None
    )
    kerf = LengthField(source="kerf_ticks", required=False)
    end_trim = LengthField(source="end_trim_ticks", required=False)
    min_offcut = LengthField(source="min_offcut_ticks", required=False)

    class Meta:
        model = Part
        fields = [
            *("id", "company", "code", "description", "kind", "unit_of_use", "pack_name"),
            *("pack_size", "weight", "weight_per_length", "role", "profile", "grade"),
            *("kerf", "end_trim", "min_offcut", "shelf_life_days", "facts", "is_active"),
            *("version", "created_at", "updated_at"),
        ]
        read_only_fields = ["id", "facts", "version", "created_at", "updated_at"]
        extra_kwargs = {
            "pack_size": {"min_value": 1, "max_value": MOST},
            "shelf_life_days": {"min_value": 1, "max_value": 36_500},
        }


class ChangePartShape(PartShape):
    """The code, the kind and the company of a part stay: its ledger hangs on them."""

    class Meta(PartShape.Meta):
        read_only_fields = [*PartShape.Meta.read_only_fields, "code", "kind", "company"]

    company = serializers.PrimaryKeyRelatedField[Company](read_only=True)  # type: ignore[assignment]


class LoadCatalogueShape(StrictSerializer):
    company = ScopedKeyField(Company.objects.all(), company_path="pk")
    supplier = serializers.CharField(max_length=120, default="List price supplier")
    document = serializers.JSONField()


class LoadedShape(serializers.Serializer[Any]):
    parts = serializers.IntegerField()


class SupplierShape(StrictModelSerializer[Supplier]):
    company = ScopedKeyField(Company.objects.all(), company_path="pk")

    class Meta:
        model = Supplier
        fields = [
            *("id", "company", "name", "lead_days", "minimum_order_cents"),
            *("version", "created_at", "updated_at"),
        ]
        read_only_fields = ["id", "version", "created_at", "updated_at"]
        extra_kwargs = {
            "lead_days": {"min_value": 0, "max_value": 3650},
            "minimum_order_cents": {"min_value": 0, "max_value": CENTS_MOST},
        }


class SupplierPartShape(StrictModelSerializer[SupplierPart]):
    supplier = ScopedKeyField(Supplier.objects.all(), company_path="company")
    part = part_key()
    length = BarLengthField()

    class Meta:
        model = SupplierPart
        fields = [
            *("id", "supplier", "part", "length", "pack_size", "pack_cents"),
            *("minimum_packs", "lead_days"),
        ]
        read_only_fields = ["id"]
        validators: list[Any] = []
        extra_kwargs = {
            "pack_size": {"min_value": 1, "max_value": MOST},
            "minimum_packs": {"min_value": 1, "max_value": MOST},
            "pack_cents": {"min_value": 0, "max_value": CENTS_MOST},
            "lead_days": {"min_value": 0, "max_value": 3650},
        }


class ReorderRuleShape(StrictModelSerializer[ReorderRule]):
    branch = branch_key()
    part = part_key()
    length = BarLengthField()

    class Meta:
        model = ReorderRule
        fields = ["id", "branch", "part", "length", "point", "order_up_to"]
        read_only_fields = ["id"]
        validators: list[Any] = []
        extra_kwargs = {
            "point": {"min_value": 0, "max_value": MOST},
            "order_up_to": {"min_value": 0, "max_value": MOST},
        }


class BinShape(StrictModelSerializer[Bin]):
    branch = branch_key()

    class Meta:
        model = Bin
        fields = ["id", "branch", "name"]
        read_only_fields = ["id"]


class LotShape(StrictModelSerializer[Lot]):
    has_certificate = serializers.SerializerMethodField()

    class Meta:
        model = Lot
        fields = ["id", "part", "number", "expires_on", "has_certificate"]
        read_only_fields = fields

    def get_has_certificate(self, row: Lot) -> bool:
        return bool(row.certificate)


PLACE_FIELDS = ("id", "branch", "part", "lot", "bin", "on_hand", "reserved", "available")


class StockLevelShape(StrictModelSerializer[StockLevel]):
    available = serializers.IntegerField(read_only=True)

    class Meta:
        model = StockLevel
        fields = PLACE_FIELDS
        read_only_fields = fields


class StockLengthShape(StrictModelSerializer[StockLength]):
    available = serializers.IntegerField(read_only=True)
    length = BarLengthField(read_only=True)

    class Meta:
        model = StockLength
        fields = (*PLACE_FIELDS, "length")
        read_only_fields = fields


class OffcutShape(StrictModelSerializer[Offcut]):
    available = serializers.IntegerField(read_only=True)
    length = BarLengthField(read_only=True)

    class Meta:
        model = Offcut
        fields = (*PLACE_FIELDS, "length", "tag", "made_at")
        read_only_fields = fields


class LedgerEntryShape(StrictModelSerializer[LedgerEntry]):
    """``quantity`` and ``balance_quantity``: units of use, or 64ths of an inch for bars."""

    class Meta:
        model = LedgerEntry
        fields = (
            *("id", "branch", "part", "seq", "at", "kind", "stock_level", "stock_length"),
            *("offcut", "change", "quantity", "cents", "balance_quantity", "balance_cents"),
            *("place_balance", "reason", "reference", "actor"),
        )
        read_only_fields = fields


class MoveToBinShape(StrictSerializer):
    bin = bin_key()
    count = quantity()


class PositionShape(serializers.Serializer[Any]):
    branch = serializers.IntegerField(source="branch_pk")
    part = serializers.IntegerField(source="part_pk")
    quantity = serializers.IntegerField()
    cents = serializers.IntegerField()
