"""Stock goes from branch to branch; in between it is in transit and belongs to neither bin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from contractor.api.events import record
from contractor.api.transactions import service
from contractor.errors import InvalidValueError, NotFoundError
from inventory import locks
from inventory.amounts import check_quantity, find_branch
from inventory.errors import BadQuantityError, InsufficientStockError
from inventory.models import LedgerEntry, Offcut, Place, StockLength, Transfer, TransferLine
from inventory.posting import Note, post, take_out
from inventory.states import move_transfer
from inventory.stocking import new_offcut, place_for

Kind = LedgerEntry.Kind


@dataclass(frozen=True)
class Parcel:
    """``count`` units, bars or the offcut of one place."""

    place: locks.PlaceKey
    count: int


@service
def transfer_out(
    branch_pk: int,
    to_branch_pk: int,
    parcels: Sequence[Parcel],
    *,
    at: datetime,
    expected_on: date | None = None,
) -> Transfer:
    """Send stock to another branch of the company. Only what nobody has reserved travels."""
    branch, to_branch = find_branch(branch_pk), find_branch(to_branch_pk)
    if branch.pk == to_branch.pk or branch.company_id != to_branch.company_id or not parcels:
        raise InvalidValueError(
            "A transfer carries something between two branches of one company.",
            remedy="Choose the other branch.",
        )
    rows = [_find(branch.pk, parcel) for parcel in parcels]
    transfer = Transfer.objects.create(
        branch=branch, to_branch=to_branch, expected_on=expected_on, left_at=at
    )
    heads = locks.lock_balances(branch.pk, [row.part_id for row in rows])
    places = locks.lock_places(parcel.place for parcel in parcels)
    note = Note(at, reference=f"transfer {transfer.pk}")
    for number, parcel in enumerate(parcels):
        place = places[parcel.place]
        check_quantity(parcel.count, f"#/lines/{number}/count")
        _refuse_more_than_free(place, parcel.count)
        entry = take_out(heads[place.part_id], place, Kind.TRANSFER_OUT, note, count=parcel.count)
        _write_line(transfer, place, parcel.count, -entry.cents)
    record("transfer.left", transfer, branch=branch, to_branch=to_branch.pk)
    return transfer


@service
def transfer_in(
    transfer_pk: int,
    *,
    at: datetime,
    arrived: Mapping[int, int] | None = None,
    reason: str = "",
    if_match: int | None = None,
) -> Transfer:
    """Book the goods in at the other branch, at the value they left with.

    ``arrived``: line pk -> count for lines that arrived short (a ``reason`` is then needed);
    the rest arrived whole. What is missing is posted as lost in transit.
    """
    transfer = locks.lock_transfer(transfer_pk)
    transfer.expect_version(if_match)
    move_transfer(transfer, Transfer.Status.ARRIVED)
    lines = list(transfer.lines.select_related("part").order_by("pk"))
    counts = _arrived_counts(lines, arrived or {}, reason)
    heads = locks.lock_balances(transfer.to_branch_id, [line.part_id for line in lines])
    made = [_destination(transfer, line, at) for line in lines]
    places = locks.lock_places(locks.place_key(place) for place in made)
    note = Note(at, reference=f"transfer {transfer.pk}")
    loss = Note(at, reason=reason.strip(), reference=f"transfer {transfer.pk}")
    for line, row in zip(lines, made, strict=True):
        place, head = places[locks.place_key(row)], heads[line.part_id]
        line.arrived = counts[line.pk]
        line.reason = reason.strip() if line.arrived < line.quantity else ""
        post(head, place, Kind.TRANSFER_IN, note, change=line.quantity, cents=line.cents)
        if missing := line.quantity - line.arrived:
            is_all = missing * place.unit_quantity == head.quantity
            value = head.cents if is_all else line.cents * missing // line.quantity
            post(head, place, Kind.TRANSFER_LOSS, loss, change=-missing, cents=-value)
        line.save(update_fields=["arrived", "reason"])
    transfer.arrived_at = at
    transfer.save(update_fields=["status", "arrived_at"])
    record("transfer.arrived", transfer, branch=transfer.to_branch)
    return transfer


def _find(branch_pk: int, parcel: Parcel) -> Place:
    rank, pk = parcel.place
    table = locks.PLACE_TABLES[rank]
    row: Place | None = table._default_manager.filter(pk=pk, branch_id=branch_pk).first()
    if row is None:
        raise NotFoundError("There is no such place at this branch.")
    return row


def _refuse_more_than_free(place: Place, count: int) -> None:
    if count > place.available:
        raise InsufficientStockError(
            f"{count} to send, {place.available} not reserved there.",
            remedy="Send less, or release a hold first.",
            shortages=[
                {
                    "part": place.part.code,
                    "wanted": count,
                    "available": place.available,
                    "short": count - place.available,
                }
            ],
        )


def _write_line(transfer: Transfer, place: Place, count: int, cents: int) -> None:
    is_length = isinstance(place, StockLength | Offcut)
    TransferLine.objects.create(
        transfer=transfer,
        part_id=place.part_id,
        lot_id=place.lot_id,
        length_ticks=place.unit_quantity if is_length else 0,
        offcut_tag=place.tag if isinstance(place, Offcut) else "",
        quantity=count,
        cents=cents,
    )


def _arrived_counts(
    lines: Sequence[TransferLine], arrived: Mapping[int, int], reason: str
) -> dict[int, int]:
    counts = {line.pk: line.quantity for line in lines}
    for pk, found in arrived.items():
        if pk not in counts:
            raise NotFoundError(f"The transfer has no line {pk}.")
        check_quantity(found, "#/arrived", least=0)
        if found > counts[pk]:
            raise BadQuantityError(
                f"{found} arrived, {counts[pk]} were sent.", remedy="Book found goods by a count."
            )
        if found < counts[pk] and not reason.strip():
            raise InvalidValueError("Goods are missing.", remedy="Say why.", pointer="#/reason")
        counts[pk] = found
    return counts


def _destination(transfer: Transfer, line: TransferLine, at: datetime) -> Place:
    if line.offcut_tag:
        return new_offcut(
            transfer.to_branch_id,
            line.part,
            length_ticks=line.length_ticks,
            at=at,
            lot_pk=line.lot_id,
        )
    return place_for(
        transfer.to_branch_id,
        line.part,
        length_ticks=line.length_ticks,
        lot_pk=line.lot_id,
        bin_pk=None,
    )
