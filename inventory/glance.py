"""All that a reservation of units must know, in one query.

Many clients reserve the same few parts; what costs them is round trips. Bars, and anything
out of the ordinary, take the long way through ``amounts`` and ``allocation``, which refuse with
reasons.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import connection

from contractor.api.models import Branch
from inventory.allocation import LEVEL, Hold
from inventory.amounts import MOST, Need

_LOOK = """
    SELECT branch.company_id, branch.time_zone, part.id, level.id,
           level.on_hand - level.reserved, lot.expires_on
    FROM api_branch branch
    JOIN inventory_part part ON part.company_id = branch.company_id AND part.kind <> 'bar'
    JOIN inventory_stocklevel level
      ON level.branch_id = branch.id AND level.part_id = part.id AND level.on_hand > level.reserved
    LEFT JOIN inventory_lot lot ON lot.id = level.lot_id
    WHERE branch.id = %s AND part.id IN ({})
    ORDER BY CASE WHEN lot.expires_on IS NULL THEN 1 ELSE 0 END, lot.expires_on, level.id
"""


@dataclass(frozen=True)
class Glance:
    """``branch`` carries its key and company only."""

    branch: Branch
    holds: list[Hold]


def glance(branch_pk: int, needs: Sequence[Need], at: datetime) -> Glance | None:
    """Return holds that meet ``needs`` out of units that last beyond ``at``, else None.

    None says nothing about why: an unknown part, a bar, a bad quantity or too little stock.
    """
    if not needs or not all(_is_plain(need) for need in needs):
        return None
    keys = sorted({need.part_pk for need in needs})
    with connection.cursor() as cursor:
        cursor.execute(_LOOK.format(", ".join(["%s"] * len(keys))), [branch_pk, *keys])
        rows = cursor.fetchall()
    if not rows:
        return None
    company_pk, time_zone = rows[0][:2]
    on = at.astimezone(ZoneInfo(time_zone)).date()
    free: dict[int, list[list[int]]] = defaultdict(list)
    for _, _, part, level, available, expires in rows:
        if expires is None or _day(expires) >= on:
            free[part].append([level, available])
    holds = _take(needs, free)
    return None if holds is None else Glance(Branch(pk=branch_pk, company_id=company_pk), holds)


def _is_plain(need: Need) -> bool:
    return not need.length_ticks and type(need.quantity) is int and 0 < need.quantity <= MOST


def _day(value: date | str) -> date:
    """Return a date column as SQLite (text) or PostgreSQL gives it."""
    return date.fromisoformat(value) if isinstance(value, str) else value


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
