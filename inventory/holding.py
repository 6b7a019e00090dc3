"""Hold and let go of places: the shared steps of every service that reserves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from django.db.models import F

from contractor.api.inserting import Statement, send
from inventory.allocation import Hold
from inventory.locks import PLACE_TABLES, PlaceKey
from inventory.models import Reservation, ReservationLine

_COLUMNS = ("stock_level_id", "stock_length_id", "offcut_id")


class LostRaceError(Exception):
    """Somebody took the stock between the look and the update; look again."""


def hold(
    reservation: Reservation, holds: Sequence[Hold], *, first: Sequence[Statement] = ()
) -> None:
    """Do ``first``, write the lines, then raise ``reserved`` place by place in lock order.

    Child rows first, then conditional updates in one order for everybody: of eight ways measured
    this was the fastest that never oversold and never deadlocked; the CHECK in the table is the
    fence behind it. Raises LostRaceError when a place has less than was seen; the caller then
    rolls back. Call it last: the rows are locked from here to the commit. On PostgreSQL all the
    statements go out in one message, so that nobody waits for our round trips.
    """
    totals: Counter[PlaceKey] = Counter()
    for one in holds:
        totals[one.place] += one.quantity
    takes = [
        (_TAKE[rank].format(quantity, pk, quantity), ())
        for (rank, pk), quantity in sorted(totals.items())
    ]
    counts = send([*first, _lines(reservation, holds), *takes])
    if counts[-len(takes) :] != [1] * len(takes):
        raise LostRaceError


# Numbers are written into the texts, {:d}, which refuses all else: a driver that fills in values
# itself takes as long over the many of an order as the database does over its rows.
_LINE_START = (
    f"INSERT INTO {ReservationLine._meta.db_table} "  # noqa: S608 - our own names
    f"(reservation_id, part_id, quantity, outstanding, issued, kit_line_id, {', '.join(_COLUMNS)})"
    " VALUES "
)
_LINE = "({:d}, {:d}, {:d}, {:d}, 0, {}, {}, {}, {})"
_TAKE = tuple(
    f"UPDATE {table._meta.db_table} SET reserved = reserved + {{:d}} "  # noqa: S608 - our own names
    "WHERE id = {:d} AND on_hand >= reserved + {:d}"
    for table in PLACE_TABLES
)


def _lines(reservation: Reservation, holds: Sequence[Hold]) -> Statement:
    rows = []
    for one in holds:
        keys = [one.kit_line_pk, None, None, None]
        keys[1 + one.place[0]] = one.place[1]
        amounts = (reservation.pk, one.part_pk, one.quantity, one.quantity)
        rows.append(_LINE.format(*amounts, *map(_or_null, keys)))
    return _LINE_START + ", ".join(rows), ()


def _or_null(key: int | None) -> str:
    return "NULL" if key is None else f"{key:d}"


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
