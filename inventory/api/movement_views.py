"""Receipts, supplier orders, counts, transfers and reservations over HTTP."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.resources import BranchViewSet, Creates
from inventory import services
from inventory.amounts import Delivery, Need
from inventory.api import movement_shapes as shapes
from inventory.api.receipt_import import ReceivesFiles
from inventory.api.roles import BUYERS, READERS, STOCK
from inventory.locks import place_key
from inventory.models import (
    Receipt,
    Reservation,
    StockCount,
    SupplierOrder,
    Transfer,
)


def deliveries(lines: list[dict[str, Any]]) -> list[Delivery]:
    return [
        Delivery(
            part_pk=line["part"].pk,
            cents=line["cents"],
            quantity=line["quantity"],
            packs=line["packs"],
            length_ticks=line["length_ticks"],
            lot_number=line["lot_number"],
            expires_on=line["expires_on"],
            bin_pk=line["bin"].pk if line["bin"] else None,
            order_line_pk=line.get("order_line"),
        )
        for line in lines
    ]


def needs(lines: list[dict[str, Any]]) -> list[Need]:
    return [
        Need(line["part"].pk, line["quantity"], line["length_ticks"], line["mark"])
        for line in lines
    ]


class ReceiptViews(ReceivesFiles, Exports, Creates):
    queryset = Receipt.objects.prefetch_related("lines")
    serializer_class = shapes.ReceiptShape
    create_shape = shapes.ReceiveShape
    branch_path = "branch"
    area = "inventory"
    default_ordering = "-id"
    filterset_fields = ("branch", "order")
    access = {
        "list": READERS,
        "export": READERS,
        "retrieve": READERS,
        "create": STOCK,
        "import_rows": STOCK,
    }

    def create_row(self, values: dict[str, Any]) -> Receipt:
        return services.receive(
            values["branch"].pk,
            deliveries(values["lines"]),
            at=timezone.now(),
            reference=values["reference"],
        )


class SupplierOrderViews(Exports, Creates):
    queryset = SupplierOrder.objects.select_related("branch").prefetch_related("lines")
    serializer_class = shapes.SupplierOrderShape
    create_shape = shapes.DraftOrderShape
    branch_path = "branch"
    area = "inventory"
    filterset_fields = ("branch", "supplier", "status")
    access = {
        "list": READERS,
        "export": READERS,
        "retrieve": READERS,
        "create": STOCK,
        "place": BUYERS,
        "change_promise": STOCK,
        "receive": STOCK,
        "cancel": BUYERS,
    }

    def create_row(self, values: dict[str, Any]) -> SupplierOrder:
        items = [
            services.OrderItem(
                line["part"].pk,
                line["cents"],
                line["quantity"],
                line["packs"],
                line["length_ticks"],
                line["promised_on"],
            )
            for line in values["lines"]
        ]
        return services.order(
            values["branch"].pk, values["supplier"].pk, items, reference=values["reference"]
        )

    @command()
    def place(self, order: Order) -> SupplierOrder:
        """The order goes out; from now on it counts as coming."""
        return services.place_order(order.row.pk, at=timezone.now(), if_match=order.if_match)

    @command(body=shapes.PromiseChangeShape)
    def change_promise(self, order: Order) -> SupplierOrder:
        """The supplier names another day for a line, or none."""
        values = order.values
        return services.change_promise(
            order.row.pk, values["line"], values["promised_on"], if_match=order.if_match
        )

    @command(body=shapes.ReceiveOrderShape, answer=shapes.ReceiptShape, status=201)
    def receive(self, order: Order) -> Receipt:
        """Book in what came, in part or all."""
        return services.receive_order(
            order.row.pk,
            deliveries(order.values["lines"]),
            at=timezone.now(),
            reference=order.values["reference"],
            if_match=order.if_match,
        )

    @command()
    def cancel(self, order: Order) -> SupplierOrder:
        """What has not come is not coming."""
        return services.cancel_order(order.row.pk, if_match=order.if_match)


class CountViews(Exports, Creates):
    queryset = StockCount.objects.all()
    serializer_class = shapes.StockCountShape
    create_shape = shapes.CountShape
    branch_path = "branch"
    area = "inventory"
    default_ordering = "-id"
    filterset_fields = ("branch", "part", "is_adjustment")
    access = {
        "list": READERS,
        "export": READERS,
        "retrieve": READERS,
        "create": STOCK,
        "adjust": STOCK,
    }

    def create_row(self, values: dict[str, Any]) -> StockCount:
        at, reason = timezone.now(), values["reason"]
        if values["place"] is not None:
            return services.count(place_key(values["place"]), values["found"], reason=reason, at=at)
        return services.count_new(
            values["branch"].pk,
            values["part"].pk,
            values["found"],
            reason=reason,
            at=at,
            length_ticks=values["length_ticks"],
            lot_pk=values["lot"].pk if values["lot"] else None,
            bin_pk=values["bin"].pk if values["bin"] else None,
            is_offcut=values["is_offcut"],
        )

    @command(body=shapes.AdjustShape, detail=False, status=201)
    def adjust(self, order: Order) -> StockCount:
        """Add to or take from a place, with a reason."""
        values = order.values
        return services.adjust(
            place_key(values["place"]), values["change"], reason=values["reason"], at=timezone.now()
        )


class TransferViews(Exports, Creates):
    """Transfers that leave a branch."""

    queryset = Transfer.objects.prefetch_related("lines")
    serializer_class = shapes.TransferShape
    create_shape = shapes.SendShape
    branch_path = "branch"
    area = "inventory"
    filterset_fields = ("branch", "to_branch", "status")
    access = {"list": READERS, "export": READERS, "retrieve": READERS, "create": STOCK}

    def create_row(self, values: dict[str, Any]) -> Transfer:
        parcels = [
            services.Parcel(place_key(line["place"]), line["count"]) for line in values["lines"]
        ]
        return services.transfer_out(
            values["branch"].pk,
            values["to_branch"].pk,
            parcels,
            at=timezone.now(),
            expected_on=values["expected_on"],
        )


class IncomingTransferViews(BranchViewSet):
    """The same transfers, as the branch sees them where they arrive."""

    queryset = Transfer.objects.prefetch_related("lines")
    serializer_class = shapes.TransferShape
    branch_path = "to_branch"
    area = "inventory"
    filterset_fields = ("branch", "to_branch", "status")
    access = {"list": READERS, "retrieve": READERS, "arrive": STOCK}

    @command(body=shapes.ArriveShape)
    def arrive(self, order: Order) -> Transfer:
        """Book the goods in; lines that arrived short need a reason."""
        values = order.values
        return services.transfer_in(
            order.row.pk,
            at=timezone.now(),
            arrived={line["line"]: line["arrived"] for line in values["lines"]},
            reason=values["reason"],
            if_match=order.if_match,
        )


class ReservationViews(Exports, Creates):
    queryset = Reservation.objects.prefetch_related("lines")
    serializer_class = shapes.ReservationShape
    create_shape = shapes.ReserveShape
    branch_path = "branch"
    area = "inventory"
    filterset_fields = ("branch", "kit", "status")
    access = {
        "list": READERS,
        "export": READERS,
        "retrieve": READERS,
        "create": STOCK,
        "release": STOCK,
    }

    def create_row(self, values: dict[str, Any]) -> Reservation:
        return services.reserve(
            values["branch"].pk,
            needs(values["lines"]),
            at=timezone.now(),
            reference=values["reference"],
            priority=values["priority"],
            expires_at=values["expires_at"],
        )

    @command()
    def release(self, order: Order) -> Reservation:
        """Let the hold go."""
        return services.release(order.row.pk, if_match=order.if_match)
