"""All that a reservation of units must know, in one message, two where there are lots.

Many clients reserve the same few parts; what costs them is round trips, and the time the
database takes to plan a query of many tables: a level holds units of its branch's company, so the
part is not asked. Bars, and anything out of the ordinary, take the long way through ``amounts``
and ``allocation``, which refuse with reasons.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from contractor.api.inserting import ask, next_key
from contractor.api.models import Branch
from inventory.allocation import LEVEL, Hold
from inventory.amounts import MOST, Need, day_at
from inventory.models import Lot, Reservation

_BRANCH = "SELECT company_id, time_zone, {key} FROM api_branch WHERE id = %s"
_LEVELS = """
    SELECT id, part_id, on_hand - reserved, lot_id FROM inventory_stocklevel
    WHERE branch_id = %s AND part_id IN ({parts}) AND on_hand > reserved ORDER BY id
"""
Row = tuple[int, int, int, int | None]  # level, part, available, lot


@dataclass(frozen=True)
class Glance:
    """``branch`` carries its key, company and time zone only; the reservation gets ``key``."""

    branch: Branch
    key: int
    holds: list[Hold]


def glance(branch_pk: int, needs: Sequence[Need], at: datetime) -> Glance | None:
    """Return holds that meet ``needs`` out of units that last beyond ``at``, else None.

    None says nothing about why: an unknown part, a bar, a bad quantity or too little stock.
    """
    if not needs or not all(_is_plain(need) for need in needs):
        return None
    parts = sorted({need.part_pk for need in needs})
    branches, rows = ask(
        [
            (_BRANCH.format(key=next_key(Reservation)), [branch_pk]),
            (_LEVELS.format(parts=", ".join(["%s"] * len(parts))), [branch_pk, *parts]),
        ]
    )
    if not rows:
        return None
    company_pk, time_zone, key = branches[0]
    branch = Branch(pk=branch_pk, company_id=company_pk, time_zone=time_zone)
    free: dict[int, list[list[int]]] = defaultdict(list)
    for level, part, available, _ in _in_order(rows, day_at(branch, at)):
        free[part].append([level, available])
    holds = _take(needs, free)
    return None if holds is None else Glance(branch, key, holds)


def _in_order(rows: list[Row], on: date) -> list[Row]:
    """Leave out lots that have expired before ``on``; those that expire first come first."""
    lots = {lot for *_, lot in rows if lot is not None}
    if not lots:
        return rows
    ends = dict(Lot.objects.filter(pk__in=lots).values_list("pk", "expires_on"))

    def end(row: Row) -> date | None:
        lot = row[3]
        return None if lot is None else ends[lot]

    fresh = [row for row in rows if (end(row) or on) >= on]
    return sorted(fresh, key=lambda row: (end(row) is None, end(row) or on))


def _is_plain(need: Need) -> bool:
    return not need.length_ticks and type(need.quantity) is int and 0 < need.quantity <= MOST


def _take(needs: Sequence[Need], free: dict[int, list[list[int]]]) -> list[Hold] | None:
    holds: list[Hold] = []
    for need in needs:
        missing = need.quantity
        for row in free[need.part_pk]:
            if (taken := min(missing, row[1])) > 0:
                holds.append(Hold((LEVEL, row[0]), need.part_pk, taken, need.kit_line_pk))
                row[1] -= taken
                missing -= taken
        if missing:
            return None
    return holds
