"""Counts and adjustments: the ledger is corrected by a new entry with a reason."""

from __future__ import annotations

from datetime import datetime

from contractor.api.actor import current_actor
from contractor.api.transactions import service
from contractor.errors import InvalidValueError, NotFoundError
from inventory import locks
from inventory.amounts import MOST, check_length, check_quantity, find_branch, find_parts
from inventory.errors import BadQuantityError, BelowReservedError
from inventory.models import Balance, LedgerEntry, Lot, Offcut, Part, Place, StockCount
from inventory.posting import Note, post, value_of
from inventory.stocking import check_bin, new_offcut, place_for

Kind = LedgerEntry.Kind


@service
def count(place: locks.PlaceKey, found: int, *, reason: str, at: datetime) -> StockCount:
    """Record that ``found`` lie at ``place``; the difference is posted at the moving average.

    Less than is reserved there is refused: somebody must lose a hold first, and that is a
    person's choice.
    """
    check_quantity(found, "#/found", least=0)
    row = _find(place)
    head = locks.lock_balances(row.branch_id, [row.part_id])[row.part_id]
    locked = locks.lock_places([place])[place]
    return _correct(head, locked, found, reason, at, Kind.COUNT)


@service
def adjust(place: locks.PlaceKey, change: int, *, reason: str, at: datetime) -> StockCount:
    """Add or take away ``change`` at ``place`` (damage, theft, found goods), with a reason."""
    if isinstance(change, bool) or not isinstance(change, int) or not 0 < abs(change) <= MOST:
        raise BadQuantityError(
            f"{change!r} changes nothing.", remedy="Give + or - some.", pointer="#/change"
        )
    row = _find(place)
    head = locks.lock_balances(row.branch_id, [row.part_id])[row.part_id]
    locked = locks.lock_places([place])[place]
    if locked.on_hand + change < 0:
        raise BadQuantityError(
            f"{-change} taken away, {locked.on_hand} on hand.",
            remedy="Count the place instead.",
            pointer="#/change",
        )
    return _correct(head, locked, locked.on_hand + change, reason, at, Kind.ADJUSTMENT)


@service
def count_new(
    branch_pk: int,
    part_pk: int,
    found: int,
    *,
    reason: str,
    at: datetime,
    length_ticks: int = 0,
    lot_pk: int | None = None,
    bin_pk: int | None = None,
    is_offcut: bool = False,
) -> StockCount:
    """Record a count at a place that may have no row yet; an offcut gets a new tag."""
    check_quantity(found, "#/found", least=0)
    branch = find_branch(branch_pk)
    part = find_parts(branch, [part_pk])[part_pk]
    check_length(part, length_ticks, "#/length")
    check_bin(branch_pk, bin_pk)
    _check_lot(part, lot_pk)
    head = locks.lock_balances(branch_pk, [part_pk])[part_pk]
    place: Place
    if is_offcut and part.is_bar and found == 1:
        place = new_offcut(
            branch_pk, part, length_ticks=length_ticks, at=at, lot_pk=lot_pk, bin_pk=bin_pk
        )
    elif is_offcut:
        raise BadQuantityError("An offcut is one piece of a bar.", remedy="Count them one by one.")
    else:
        place = place_for(branch_pk, part, length_ticks=length_ticks, lot_pk=lot_pk, bin_pk=bin_pk)
    key = locks.place_key(place)
    return _correct(head, locks.lock_places([key])[key], found, reason, at, Kind.COUNT)


def _check_lot(part: Part, lot_pk: int | None) -> None:
    if lot_pk is not None and not Lot.objects.filter(pk=lot_pk, part=part).exists():
        raise NotFoundError(f"There is no lot {lot_pk} of {part.code}.")


def _find(place: locks.PlaceKey) -> Place:
    rank, pk = place
    row: Place | None = locks.PLACE_TABLES[rank]._default_manager.filter(pk=pk).first()
    if row is None:
        raise NotFoundError("There is no such place.")
    return row


def _correct(
    head: Balance, place: Place, found: int, reason: str, at: datetime, kind: str
) -> StockCount:
    _check_found(place, found, reason)
    expected, change = place.on_hand, found - place.on_hand
    entry = None
    if change:
        cents = _value_of_change(head, change * place.unit_quantity)
        note = Note(at, reason=reason.strip())
        entry = post(head, place, kind, note, change=change, cents=cents)
    return StockCount.objects.create(
        branch_id=place.branch_id,
        part_id=place.part_id,
        entry=entry,
        expected=expected,
        found=found,
        reason=reason.strip(),
        is_adjustment=kind == Kind.ADJUSTMENT,
        at=at,
        actor=current_actor(),
    )


def _check_found(place: Place, found: int, reason: str) -> None:
    if not reason.strip():
        raise InvalidValueError(
            "A correction needs a reason.", remedy="Say why.", pointer="#/reason"
        )
    if isinstance(place, Offcut) and found > 1:
        raise BadQuantityError("An offcut is one piece.", remedy="Count others by their tags.")
    if found < place.reserved:
        raise BelowReservedError(
            f"{found} found, {place.reserved} reserved there.",
            remedy="Release or take over a hold first, then count again.",
            found=found,
            reserved=place.reserved,
        )


def _value_of_change(head: Balance, quantity: int) -> int:
    """Value found goods at the average; where none are left, at the average of the last entry.

    Goods never bought at this branch are worth nothing until they are.
    """
    if quantity < 0:
        return -value_of(head, -quantity)
    if head.quantity:
        return value_of(head, quantity)
    last = (
        LedgerEntry.objects.filter(branch=head.branch_id, part=head.part_id, quantity__lt=0)
        .order_by("-seq")
        .first()
    )
    return -last.cents * quantity // -last.quantity if last else 0
