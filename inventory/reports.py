"""Reports of the saw: yield by month with what was spoiled on site, offcuts by age."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from contractor.api.models import Branch
from inventory.models import CuttingPlan, KitLine, LedgerEntry, Offcut

_K = LedgerEntry.Kind
AGES = (30, 90, 180)


@dataclass(frozen=True)
class MonthYield:
    """One part in one month. Ticks sawn into pieces, wasted, and kept as offcuts.

    ``plan_cents`` against ``bound_cents``: what the plans of the month cost, and what no plan
    could have gone below. ``site_scrap`` counts the units or pieces that loaded kits spoiled on
    site, ``site_scrap_cents`` what they had cost; neither is part of the waste at the saw.
    """

    month: date
    part_pk: int
    pieces_ticks: int
    waste_ticks: int
    kept_ticks: int
    waste_cents: int
    plan_cents: int
    bound_cents: int
    site_scrap: int
    site_scrap_cents: int

    @property
    def yield_share(self) -> float:
        """Return pieces / (pieces + waste): offcuts are neither."""
        sawn = self.pieces_ticks + self.waste_ticks
        return self.pieces_ticks / sawn if sawn else 1.0


@dataclass(frozen=True)
class OffcutAge:
    """Offcuts of a part in stock, by days since they were made: up to ``days``, None = older."""

    part_pk: int
    days: int | None
    count: int
    ticks: int


def yield_by_month(branch: Branch, *, first: date, last: date) -> list[MonthYield]:
    """Return the yield of every part and month from ``first`` to ``last``, inclusive."""
    zone = ZoneInfo(branch.time_zone)
    sums: dict[tuple[date, int], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    start = datetime(first.year, first.month, first.day, tzinfo=zone)
    rows = LedgerEntry.objects.filter(
        branch=branch, kind__in=(_K.CUT, _K.SCRAP, _K.OFFCUT), at__gte=start
    )
    for entry in rows.iterator():
        day = entry.at.astimezone(zone).date()
        if day <= last:
            _add_entry(sums[day.replace(day=1), entry.part_id], entry)
    _add_plans(branch, zone, first, last, sums)
    _add_site_scrap(branch, zone, first, last, sums)
    return [
        MonthYield(
            month,
            part,
            found["pieces"],
            found["waste"],
            found["kept"],
            found["waste_cents"],
            found["cost"],
            found["bound"],
            found["site_scrap"],
            found["site_scrap_cents"],
        )
        for (month, part), found in sorted(sums.items())
    ]


def _add_entry(month: dict[str, int], entry: LedgerEntry) -> None:
    if entry.kind == _K.CUT:
        month["pieces"] -= entry.quantity
    elif entry.kind == _K.SCRAP:
        month["waste"] -= entry.quantity
        month["waste_cents"] -= entry.cents
    elif entry.change:  # the offcut's own entry, not the bar's
        month["kept"] += entry.quantity


def _add_plans(
    branch: Branch,
    zone: ZoneInfo,
    first: date,
    last: date,
    sums: dict[tuple[date, int], dict[str, int]],
) -> None:
    live = (CuttingPlan.Status.FROZEN, CuttingPlan.Status.DONE)
    for plan in CuttingPlan.objects.filter(branch=branch, status__in=live):
        if plan.planned_at is None:
            continue
        day = plan.planned_at.astimezone(zone).date()
        if first <= day <= last:
            month = sums[day.replace(day=1), plan.part_id]
            month["cost"] += plan.cost_cents
            month["bound"] += plan.bound_cents


def _add_site_scrap(
    branch: Branch,
    zone: ZoneInfo,
    first: date,
    last: date,
    sums: dict[tuple[date, int], dict[str, int]],
) -> None:
    for line in KitLine.objects.filter(kit__branch=branch, scrapped_at__isnull=False):
        if line.scrapped_at is None:
            continue
        day = line.scrapped_at.astimezone(zone).date()
        if first <= day <= last:
            month = sums[day.replace(day=1), line.part_id]
            month["site_scrap"] += line.scrapped
            month["site_scrap_cents"] += line.scrapped_cents


def offcuts_by_age(branch: Branch, *, at: datetime) -> list[OffcutAge]:
    """Return the offcuts in stock by part and age."""
    sums: dict[tuple[int, int], list[int]] = defaultdict(lambda: [0, 0])
    for row in Offcut.objects.filter(branch=branch, on_hand=1).order_by("pk"):
        age = (at - row.made_at).days
        step = next((n for n, days in enumerate(AGES) if age <= days), len(AGES))
        sums[row.part_id, step][0] += 1
        sums[row.part_id, step][1] += row.length_ticks
    return [
        OffcutAge(part, AGES[step] if step < len(AGES) else None, count, ticks)
        for (part, step), (count, ticks) in sorted(sums.items())
    ]
