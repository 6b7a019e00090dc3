"""Hold and let go of places: the shared steps of every service that reserves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from django.db import transaction
from django.db.models import F

from inventory.allocation import Hold
from inventory.locks import PLACE_TABLES, PlaceKey
from inventory.models import Reservation, ReservationLine

_COLUMNS = ("stock_level_id", "stock_length_id", "offcut_id")


class LostRaceError(Exception):
    """Somebody took the stock between the look and the update; look again."""


def hold(reservation: Reservation, holds: Sequence[Hold]) -> None:
    """Write the lines, then raise ``reserved`` place by place in lock order.

    Child rows first, then conditional updates in one order for everybody: of eight ways measured
    this was the fastest that never oversold and never deadlocked; the CHECK in the table is the
    fence behind it. All or nothing: raises LostRaceError, with nothing written, when a place
    has less than was seen.
    """
    with transaction.atomic():
        ReservationLine.objects.bulk_create(_line(reservation, one) for one in holds)
        totals: Counter[PlaceKey] = Counter()
        for one in holds:
            totals[one.place] += one.quantity
        for (rank, pk), quantity in sorted(totals.items()):
            free = PLACE_TABLES[rank]._default_manager.filter(
                pk=pk, on_hand__gte=F("reserved") + quantity
            )
            if not free.update(reserved=F("reserved") + quantity):
                raise LostRaceError


def _line(reservation: Reservation, one: Hold) -> ReservationLine:
    rank, pk = one.place
    return ReservationLine(
        reservation=reservation,
        kit_line_id=one.kit_line_pk,
        part_id=one.part_pk,
        quantity=one.quantity,
        outstanding=one.quantity,
        **{_COLUMNS[rank]: pk},
    )


def place_of(line: ReservationLine) -> PlaceKey:
    """Return the key of the line's place without loading it."""
    for rank, column in enumerate(_COLUMNS):
        if (pk := getattr(line, column)) is not None:
            return rank, pk
    raise AssertionError("the constraint reservation_one_place holds")


def let_go(lines: Iterable[ReservationLine]) -> None:
    """Give up all that is outstanding on ``lines``. Their reservation is locked."""
    found = list(lines)
    give_back(found, sum(line.outstanding for line in found))


def give_back(lines: Iterable[ReservationLine], quantity: int) -> None:
    """Give up ``quantity`` of what ``lines`` hold, first line first, places in lock order."""
    totals: Counter[PlaceKey] = Counter()
    changed: list[ReservationLine] = []
    for line in lines:
        part = min(quantity, line.outstanding)
        if part:
            line.outstanding -= part
            totals[place_of(line)] += part
            changed.append(line)
            quantity -= part
    for (rank, pk), count in sorted(totals.items()):
        rows = PLACE_TABLES[rank]._default_manager.filter(pk=pk)
        rows.update(reserved=F("reserved") - count)
    ReservationLine.objects.bulk_update(changed, ["outstanding"])
