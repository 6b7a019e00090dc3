"""Shapes of receipts, supplier orders, counts, transfers and reservations."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from contractor.api.faults import fault
from contractor.api.fields import InstantField, ScopedKeyField
from contractor.api.models import Branch
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from inventory.amounts import MOST
from inventory.api.shapes import (
    BarLengthField,
    bin_key,
    branch_key,
    cents,
    part_key,
    quantity,
)
from inventory.api.shapes import (
    lines as many_lines,
)
from inventory.models import (
    Lot,
    Offcut,
    Receipt,
    ReceiptLine,
    Reservation,
    ReservationLine,
    StockCount,
    StockLength,
    StockLevel,
    Supplier,
    SupplierOrder,
    SupplierOrderLine,
    Transfer,
    TransferLine,
)


class DeliveryShape(StrictSerializer):
    """``quantity`` in units of use (or bars), or so many purchase ``packs``."""

    part = part_key()
    length = BarLengthField()
    quantity = serializers.IntegerField(min_value=1, max_value=MOST, default=0)
    packs = serializers.IntegerField(min_value=1, max_value=MOST, default=0)
    cents = cents()
    lot_number = serializers.CharField(max_length=60, default="")
    expires_on = serializers.DateField(default=None, allow_null=True)
    bin = bin_key()


class OrderDeliveryShape(DeliveryShape):
    order_line = serializers.IntegerField(min_value=1)


class ReceiveShape(StrictSerializer):
    branch = branch_key()
    reference = serializers.CharField(max_length=120, default="", allow_blank=True)
    lines = many_lines(DeliveryShape)


class ReceiveOrderShape(StrictSerializer):
    reference = serializers.CharField(max_length=120, default="", allow_blank=True)
    lines = many_lines(OrderDeliveryShape)


class ReceiptLineShape(StrictModelSerializer[ReceiptLine]):
    length = BarLengthField(read_only=True)

    class Meta:
        model = ReceiptLine
        fields = ("id", "order_line", "part", "lot", "length", "quantity", "cents")
        read_only_fields = fields


class ReceiptShape(StrictModelSerializer[Receipt]):
    lines = ReceiptLineShape(many=True, read_only=True)

    class Meta:
        model = Receipt
        fields = ("id", "branch", "order", "reference", "at", "actor", "lines")
        read_only_fields = fields


class OrderItemShape(StrictSerializer):
    part = part_key()
    length = BarLengthField()
    quantity = serializers.IntegerField(min_value=1, max_value=MOST, default=0)
    packs = serializers.IntegerField(min_value=1, max_value=MOST, default=0)
    cents = cents()
    promised_on = serializers.DateField(default=None, allow_null=True)


class DraftOrderShape(StrictSerializer):
    branch = branch_key()
    supplier = ScopedKeyField(Supplier.objects.all(), company_path="company")
    reference = serializers.CharField(max_length=120, default="", allow_blank=True)
    lines = many_lines(OrderItemShape)


class OrderLineShape(StrictModelSerializer[SupplierOrderLine]):
    length = BarLengthField(read_only=True)

    class Meta:
        model = SupplierOrderLine
        fields = ("id", "part", "length", "quantity", "received", "cents", "promised_on")
        read_only_fields = fields


class SupplierOrderShape(StrictModelSerializer[SupplierOrder]):
    lines = OrderLineShape(many=True, read_only=True)

    class Meta:
        model = SupplierOrder
        fields = (
            *("id", "branch", "supplier", "reference", "status", "placed_at", "lines"),
            *("version", "created_at", "updated_at"),
        )
        read_only_fields = fields


class PromiseChangeShape(StrictSerializer):
    line = serializers.IntegerField(min_value=1)
    promised_on = serializers.DateField(allow_null=True)


class PlaceShape(StrictSerializer):
    """Exactly one of the three names a place; or a part (with length, lot, bin) names a new one."""

    branch = branch_key()
    stock_level = ScopedKeyField(
        StockLevel.objects.all(), branch_path="branch", required=False, default=None
    )
    stock_length = ScopedKeyField(
        StockLength.objects.all(), branch_path="branch", required=False, default=None
    )
    offcut = ScopedKeyField(
        Offcut.objects.all(), branch_path="branch", required=False, default=None
    )

    def place(self, values: dict[str, Any]) -> Any:
        named = [values[name] for name in ("stock_level", "stock_length", "offcut") if values[name]]
        if len(named) > 1 or any(row.branch_id != values["branch"].pk for row in named):
            raise fault("Name one place, of that branch.", code="choose_one")
        return named[0] if named else None


class CountShape(PlaceShape):
    part = part_key()
    length = BarLengthField()
    lot = ScopedKeyField(
        Lot.objects.all(), company_path="part__company", required=False, default=None
    )
    bin = bin_key()
    is_offcut = serializers.BooleanField(default=False)
    found = serializers.IntegerField(min_value=0, max_value=MOST)
    reason = serializers.CharField(max_length=200)

    def get_fields(self) -> dict[str, Any]:
        fields = super().get_fields()
        fields["part"].required, fields["part"].default = False, None
        return fields

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs["place"] = self.place(attrs)
        if (attrs["place"] is None) == (attrs.get("part") is None):
            raise fault("Name a place, or a part for a new one.", code="choose_one")
        return attrs


class AdjustShape(PlaceShape):
    change = serializers.IntegerField(min_value=-MOST, max_value=MOST)
    reason = serializers.CharField(max_length=200)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs["place"] = self.place(attrs)
        if attrs["place"] is None:
            raise fault("Name a place.", code="choose_one")
        return attrs


class StockCountShape(StrictModelSerializer[StockCount]):
    class Meta:
        model = StockCount
        fields = (
            *("id", "branch", "part", "entry", "expected", "found", "reason"),
            *("is_adjustment", "at", "actor"),
        )
        read_only_fields = fields


class ParcelShape(PlaceShape):
    branch = None  # type: ignore[assignment]
    count = quantity()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        named = [attrs[n] for n in ("stock_level", "stock_length", "offcut") if attrs[n]]
        if len(named) != 1:
            raise fault("Name exactly one place.", code="choose_one")
        return {"place": named[0], "count": attrs["count"]}


class SendShape(StrictSerializer):
    branch = branch_key()
    to_branch = ScopedKeyField(Branch.objects.all(), company_path="company")
    expected_on = serializers.DateField(default=None, allow_null=True)
    lines = many_lines(ParcelShape)


class ArrivedLineShape(StrictSerializer):
    line = serializers.IntegerField(min_value=1)
    arrived = serializers.IntegerField(min_value=0, max_value=MOST)


class ArriveShape(StrictSerializer):
    """``lines`` only where less arrived than was sent."""

    lines = many_lines(ArrivedLineShape, least=0, required=False, default=list)
    reason = serializers.CharField(max_length=200, default="", allow_blank=True)


class TransferLineShape(StrictModelSerializer[TransferLine]):
    length = BarLengthField(read_only=True)

    class Meta:
        model = TransferLine
        fields = (
            *("id", "part", "lot", "length", "offcut_tag", "quantity", "arrived", "cents"),
            "reason",
        )
        read_only_fields = fields


class TransferShape(StrictModelSerializer[Transfer]):
    lines = TransferLineShape(many=True, read_only=True)

    class Meta:
        model = Transfer
        fields = (
            *("id", "branch", "to_branch", "status", "expected_on", "left_at", "arrived_at"),
            *("lines", "version", "created_at", "updated_at"),
        )
        read_only_fields = fields


class NeedShape(StrictSerializer):
    """``quantity`` units, or pieces of ``length`` out of bars."""

    part = part_key()
    length = BarLengthField()
    quantity = quantity()
    mark = serializers.CharField(max_length=40, default="", allow_blank=True)


class ReserveShape(StrictSerializer):
    branch = branch_key()
    reference = serializers.CharField(max_length=120, default="", allow_blank=True)
    priority = serializers.IntegerField(min_value=1, max_value=4, default=1)
    expires_at = InstantField(default=None, allow_null=True)
    lines = many_lines(NeedShape)


class ReservationLineShape(StrictModelSerializer[ReservationLine]):
    class Meta:
        model = ReservationLine
        fields = (
            *("id", "kit_line", "part", "stock_level", "stock_length", "offcut"),
            *("quantity", "outstanding", "issued"),
        )
        read_only_fields = fields


class ReservationShape(StrictModelSerializer[Reservation]):
    lines = ReservationLineShape(many=True, read_only=True)

    class Meta:
        model = Reservation
        fields = (
            *("id", "branch", "kit", "reference", "priority", "status", "expires_at", "lines"),
            *("version", "created_at", "updated_at"),
        )
        read_only_fields = fields
