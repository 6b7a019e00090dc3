"""Move stock between bins of one branch."""

from __future__ import annotations

from datetime import datetime

from contractor.api import audit
from contractor.api.transactions import service
from contractor.errors import NotFoundError
from inventory import locks
from inventory.amounts import check_quantity
from inventory.errors import InsufficientStockError
from inventory.models import LedgerEntry, Offcut, Place
from inventory.posting import Note, post, value_of
from inventory.stocking import check_bin, place_for


@service
def move_to_bin(place: locks.PlaceKey, bin_pk: int | None, count: int, *, at: datetime) -> Place:
    """Put ``count`` of a place into another bin; return where they lie now.

    Only what is not reserved moves, for a hold names its place. An offcut keeps its row.
    """
    check_quantity(count, "#/count")
    rank, pk = place
    row: Place | None = locks.PLACE_TABLES[rank]._default_manager.filter(pk=pk).first()
    if row is None:
        raise NotFoundError("There is no such place.")
    check_bin(row.branch_id, bin_pk)
    if isinstance(row, Offcut):
        locks.lock_places([place])
        before = {"bin_id": row.bin_id}
        Offcut.objects.filter(pk=pk).update(bin=bin_pk)
        row.refresh_from_db()
        audit.record(row, "changed", before, {"bin_id": row.bin_id})
        return row
    return _move(row, bin_pk, count, at)


def _move(row: Place, bin_pk: int | None, count: int, at: datetime) -> Place:
    place = locks.place_key(row)
    head = locks.lock_balances(row.branch_id, [row.part_id])[row.part_id]
    target = place_for(
        row.branch_id,
        row.part,
        length_ticks=row.unit_quantity if row.part.is_bar else 0,
        lot_pk=row.lot_id,
        bin_pk=bin_pk,
    )
    places = locks.lock_places([place, locks.place_key(target)])
    source, target_row = places[place], places[locks.place_key(target)]
    if count > source.available or source is target_row:
        raise InsufficientStockError(
            f"{count} to move, {source.available} not reserved there.",
            remedy="Move less, or move it after it is pulled.",
            shortages=[],
        )
    cents = value_of(head, count * source.unit_quantity)
    note = Note(at)
    post(head, source, LedgerEntry.Kind.MOVE, note, change=-count, cents=-cents)
    post(head, target_row, LedgerEntry.Kind.MOVE, note, change=count, cents=cents)
    return target_row
