"""Goods come in: with or without a supplier order, into a bin, by lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import repeat

from django.core.files import File

from contractor.api.actor import current_actor
from contractor.api.events import record
from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.errors import InvalidValueError, NotFoundError
from inventory import locks
from inventory.amounts import (
    Delivery,
    check_length,
    check_quantity,
    day_at,
    find_branch,
    find_parts,
)
from inventory.errors import BadQuantityError, MoreThanWantedError
from inventory.models import (
    Lot,
    Part,
    Receipt,
    ReceiptLine,
    SupplierOrder,
    SupplierOrderLine,
)
from inventory.posting import Note, post_receipts
from inventory.states import move_order
from inventory.stocking import Spot, check_bin, lot_for, places_for

CERTIFICATE_BYTES = 10 * 1024 * 1024
CERTIFICATE_HEADS = (b"%PDF-", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")


@dataclass(frozen=True)
class _Checked:
    item: Delivery
    part: Part
    units: int


@service
def receive(
    branch_pk: int, items: Sequence[Delivery], *, at: datetime, reference: str = ""
) -> Receipt:
    """Book goods in without an order. Refuses zero, negative and unknown quantities."""
    branch = find_branch(branch_pk)
    return _receive(branch, _check(branch, items), at, reference, None)


@service
def receive_order(
    order_pk: int,
    items: Sequence[Delivery],
    *,
    at: datetime,
    reference: str = "",
    if_match: int | None = None,
) -> Receipt:
    """Book in what came of an order, in part or all. More than ordered is refused.

    Each item names its ``order_line_pk``; part and length must be the line's.
    """
    order = locks.lock_order(order_pk)
    order.expect_version(if_match)
    lines = {line.pk: line for line in order.lines.order_by("pk")}
    checked = _check(order.branch, items)
    for number, one in enumerate(checked):
        _take_off(lines, one, f"#/lines/{number}")
    for line in lines.values():
        line.save(update_fields=["received"])
    status = SupplierOrder.Status
    is_done = all(line.outstanding == 0 for line in lines.values())
    move_order(order, status.RECEIVED if is_done else status.PARTLY_RECEIVED)
    order.save(update_fields=["status"])
    receipt = _receive(order.branch, checked, at, reference, order)
    record("supplier_order.received", order, branch=order.branch, receipt=receipt.pk)
    return receipt


@service
def attach_certificate(lot_pk: int, file: File[bytes]) -> Lot:
    """Store a mill certificate (PDF, PNG or JPEG up to 10 MB) with its lot."""
    lot = Lot.objects.select_for_update().filter(pk=lot_pk).first()
    if lot is None:
        raise NotFoundError(f"There is no lot {lot_pk}.")
    head = file.read(16)
    if file.size > CERTIFICATE_BYTES or not head.startswith(CERTIFICATE_HEADS):
        raise InvalidValueError(
            "A certificate is a PDF, PNG or JPEG file of at most 10 MB.", remedy="Scan it again."
        )
    file.seek(0)
    suffix = {b"%": "pdf", b"\x89": "png", b"\xff": "jpg"}[head[:1]]
    lot.certificate.save(f"lot-{lot.pk}.{suffix}", file, save=True)
    return lot


def _check(branch: Branch, items: Sequence[Delivery]) -> list[_Checked]:
    if not items:
        raise BadQuantityError("Nothing was delivered.", remedy="Give at least one line.")
    parts = find_parts(branch, [item.part_pk for item in items])
    return [
        _check_item(branch, item, parts[item.part_pk], f"#/lines/{number}")
        for number, item in enumerate(items)
    ]


def _check_item(branch: Branch, item: Delivery, part: Part, pointer: str) -> _Checked:
    check_length(part, item.length_ticks, f"{pointer}/length")
    if item.quantity and item.packs:
        raise BadQuantityError(
            "Both packs and units are given.", remedy="Give one of them.", pointer=pointer
        )
    units = item.quantity
    if item.packs:
        units = check_quantity(item.packs, f"{pointer}/packs") * part.pack_size
    check_quantity(units, f"{pointer}/quantity")
    check_quantity(item.cents, f"{pointer}/cents", least=0)
    check_bin(branch.pk, item.bin_pk)
    return _Checked(item, part, units)


def _take_off(lines: dict[int, SupplierOrderLine], one: _Checked, pointer: str) -> None:
    line = lines.get(one.item.order_line_pk or 0)
    if line is None or (line.part_id, line.length_ticks) != (one.part.pk, one.item.length_ticks):
        raise InvalidValueError(
            f"{one.part.code} is not what that line of the order asks for.",
            remedy="Name the order line that the goods belong to.",
            pointer=pointer,
        )
    if one.units > line.outstanding:
        raise MoreThanWantedError(
            f"{one.units} came, {line.outstanding} are outstanding on that line.",
            remedy="Book the rest in without an order, or send it back.",
            pointer=pointer,
        )
    line.received += one.units


def _receive(
    branch: Branch,
    checked: Sequence[_Checked],
    at: datetime,
    reference: str,
    order: SupplierOrder | None,
) -> Receipt:
    receipt = Receipt.objects.create(
        branch=branch, order=order, reference=reference, at=at, actor=current_actor()
    )
    heads = locks.lock_balances(branch.pk, [one.part.pk for one in checked])
    lots = [_lot_of(branch, one, at) for one in checked]
    spots = [_spot_of(one, lot) for one, lot in zip(checked, lots, strict=True)]
    found = places_for(branch.pk, spots)
    locked = locks.lock_places(locks.place_key(place) for place in found.values())
    goods = [
        (heads[one.part.pk], locked[locks.place_key(found[spot])], one.units, one.item.cents)
        for one, spot in zip(checked, spots, strict=True)
    ]
    post_receipts(goods, Note(at, reference=reference or f"receipt {receipt.pk}"))
    ReceiptLine.objects.bulk_create(map(_line_of, repeat(receipt), checked, lots))
    return receipt


def _lot_of(branch: Branch, one: _Checked, at: datetime) -> Lot | None:
    return lot_for(one.part, one.item.lot_number, one.item.expires_on, day_at(branch, at))


def _spot_of(one: _Checked, lot: Lot | None) -> Spot:
    length = one.item.length_ticks if one.part.is_bar else 0
    return Spot(one.part.pk, length, lot.pk if lot else None, one.item.bin_pk)


def _line_of(receipt: Receipt, one: _Checked, lot: Lot | None) -> ReceiptLine:
    return ReceiptLine(
        receipt=receipt,
        order_line_id=one.item.order_line_pk,
        part=one.part,
        lot=lot,
        length_ticks=one.item.length_ticks,
        quantity=one.units,
        cents=one.item.cents,
    )
