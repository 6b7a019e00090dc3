"""When can it be met: from stock, supplier orders, transfers, after those who come first.

Kits that wait with a higher priority, or the same and an earlier day, are served first. A
promise of a day gone by counts for tomorrow: late goods are not here.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.db.models import Q, Sum

from contractor.api.models import Branch
from contractor.engine.units import format_length
from inventory.allocation import Shortage, free_bars, usable
from inventory.amounts import Need
from inventory.locks import PlaceKey
from inventory.models import (
    CutPiece,
    Kit,
    KitLine,
    Part,
    StockLevel,
    SupplierOrder,
    SupplierOrderLine,
    SupplierPart,
    Transfer,
    TransferLine,
)
from inventory.packing import FreeBars, pack

_O = SupplierOrder.Status
COMING = (_O.PLACED, _O.PARTLY_RECEIVED)


@dataclass(frozen=True)
class Supply:
    on: date
    length_ticks: int
    quantity: int
    source: str


@dataclass(frozen=True)
class Promise:
    """``on`` None: nothing known will meet it. ``source``: stock, order, transfer, lead_time."""

    part_pk: int
    length_ticks: int
    quantity: int
    available: int
    on: date | None
    source: str


@dataclass(frozen=True)
class Rank:
    """Who comes first: the higher priority, then the earlier day; ``kit_pk`` is oneself."""

    priority: int = 1
    needed_on: date | None = None
    kit_pk: int | None = None

    def is_before(self, priority: int, needed_on: date | None) -> bool:
        """Say whether a waiting kit of ``priority`` and ``needed_on`` is served before us."""
        if priority != self.priority:
            return priority > self.priority
        return needed_on is not None and (self.needed_on is None or needed_on < self.needed_on)


@dataclass(frozen=True)
class WhatIf:
    """Stock that would be free (``supplies`` by part, of today) and needs served ``first``."""

    supplies: Mapping[int, list[Supply]] = field(default_factory=dict)
    first: Sequence[Need] = ()


def promise(
    branch: Branch,
    needs: Sequence[Need],
    parts: Mapping[int, Part],
    *,
    on: date,
    rank: Rank,
    what_if: WhatIf | None = None,
) -> list[Promise]:
    """Return one promise per need, in their order. Needs of one part count together."""
    asked = what_if or WhatIf()
    mine: dict[int, list[Need]] = defaultdict(list)
    for need in needs:
        mine[need.part_pk].append(need)
    made: dict[int, list[Promise]] = {}
    ahead = waiting_ahead(branch, list(mine), rank)
    for part_pk, group in mine.items():
        supplies = asked.supplies.get(part_pk, []) + coming(branch.pk, part_pk, on)
        promise_part = _promise_bars if parts[part_pk].is_bar else _promise_units
        made[part_pk] = promise_part(
            branch,
            parts[part_pk],
            group,
            [*ahead.get(part_pk, []), *(n for n in asked.first if n.part_pk == part_pk)],
            supplies,
            on,
        )
    taken = {part_pk: iter(found) for part_pk, found in made.items()}
    return [next(taken[need.part_pk]) for need in needs]


def whole(promises: Iterable[Promise]) -> date | None:
    """Return the day when everything can be met; None when a line has no day."""
    days = [one.on for one in promises]
    return None if None in days or not days else max(day for day in days if day is not None)


def coming(branch_pk: int, part_pk: int, on: date) -> list[Supply]:
    """Return what is promised to the branch, by day."""
    tomorrow = on + timedelta(days=1)
    found = [
        Supply(max(line.promised_on, tomorrow), line.length_ticks, line.outstanding, "order")
        for line in SupplierOrderLine.objects.filter(
            order__branch=branch_pk,
            order__status__in=COMING,
            part=part_pk,
            promised_on__isnull=False,
        )
        if line.outstanding and line.promised_on
    ]
    found += [
        Supply(
            max(line.transfer.expected_on or tomorrow, tomorrow),
            line.length_ticks,
            line.quantity,
            "transfer",
        )
        for line in TransferLine.objects.filter(
            transfer__to_branch=branch_pk,
            transfer__status=Transfer.Status.IN_TRANSIT,
            part=part_pk,
        ).select_related("transfer")
    ]
    return sorted(found, key=lambda one: (one.on, one.length_ticks, one.source))


def waiting_ahead(branch: Branch, part_pks: Sequence[int], rank: Rank) -> dict[int, list[Need]]:
    """Return what kits that hold nothing yet, and come before ``rank``, want of the parts."""
    lines = (
        KitLine.objects.filter(kit__branch=branch, kit__status=Kit.Status.OPEN, part__in=part_pks)
        .exclude(kit=rank.kit_pk)
        .select_related("kit", "part")
        .order_by("pk")
    )
    ahead: dict[int, list[Need]] = defaultdict(list)
    for line, count in open_lines(
        line for line in lines if rank.is_before(line.kit.priority, line.kit.needed_on)
    ):
        ahead[line.part_id].append(Need(line.part_id, count, line.length_ticks))
    return ahead


def open_lines(lines: Iterable[KitLine]) -> list[tuple[KitLine, int]]:
    """Return the lines of which something still has to be found, with how much.

    Units, or of bars the pieces that are neither sawn, short, nor in a live plan.
    """
    rows = list(lines)
    bars = [line.pk for line in rows if line.part.is_bar]
    pieces = CutPiece.objects.filter(kit_line__in=bars, status=CutPiece.Status.PLANNED)
    planned = Counter(pieces.values_list("kit_line", flat=True)) if bars else Counter()
    counts = [line.to_cut - planned[line.pk] if line.part.is_bar else line.wanted for line in rows]
    return [(line, count) for line, count in zip(rows, counts, strict=True) if count]


def _promise_units(
    branch: Branch,
    part: Part,
    needs: Sequence[Need],
    ahead: Sequence[Need],
    supplies: Sequence[Supply],
    on: date,
) -> list[Promise]:
    levels = usable(StockLevel.objects.filter(branch=branch, part=part), on)
    sums = levels.aggregate(hand=Sum("on_hand"), held=Sum("reserved"))
    free = (sums["hand"] or 0) - (sums["held"] or 0) - sum(need.quantity for need in ahead)
    made: list[Promise] = []
    wanted = 0
    for need in needs:
        available = max(0, free - wanted)
        wanted += need.quantity
        day, source = _first_day(free, wanted, supplies, on)
        if day is None:
            day, source = _lead_time(branch, part, 0, on)
        made.append(Promise(part.pk, 0, need.quantity, min(available, need.quantity), day, source))
    return made


def _first_day(
    free: int, wanted: int, supplies: Sequence[Supply], on: date
) -> tuple[date | None, str]:
    if free >= wanted:
        return on, "stock"
    for supply in supplies:
        free += supply.quantity
        if free >= wanted:
            return supply.on, supply.source
    return None, "none"


def _promise_bars(
    branch: Branch,
    part: Part,
    needs: Sequence[Need],
    ahead: Sequence[Need],
    supplies: Sequence[Supply],
    on: date,
) -> list[Promise]:
    """Pieces of all the needs must come out of the bars of one day together."""
    stages = list(_bar_stages(branch, part, supplies, on))
    made: list[Promise] = []
    upto: list[int] = []
    for need in needs:
        upto += [need.length_ticks] * need.quantity
        day: date | None = None
        source, available = "none", 0
        for at, (stage_on, stage_source, bars) in enumerate(stages):
            missing = _missing_after(part, _lengths(ahead), upto, bars)
            if at == 0:
                available = max(0, need.quantity - missing)
            if missing == 0:
                day, source = stage_on, stage_source
                break
        if day is None:
            day, source = _lead_time(branch, part, need.length_ticks + part.end_trim_ticks, on)
        made.append(Promise(part.pk, need.length_ticks, need.quantity, available, day, source))
    return made


def _bar_stages(
    branch: Branch, part: Part, supplies: Sequence[Supply], on: date
) -> Iterable[tuple[date, str, list[FreeBars[PlaceKey]]]]:
    bars = free_bars(branch.pk, part.pk, on)
    yield on, "stock", list(bars)
    for number, supply in enumerate(supplies):
        bars.append(FreeBars((-1, number), supply.length_ticks, supply.quantity))
        yield supply.on, supply.source, list(bars)


def _lengths(needs: Iterable[Need]) -> list[int]:
    return [need.length_ticks for need in needs for _ in range(need.quantity)]


def _missing_after(
    part: Part, ahead: list[int], mine: list[int], bars: Sequence[FreeBars[PlaceKey]]
) -> int:
    """Return how many of ``mine`` stay without a bar once those ahead have theirs."""
    rules = {"kerf": part.kerf_ticks, "end_trim": part.end_trim_ticks}
    left_out = set(pack(ahead, bars, **rules).unmet)
    served = [length for at, length in enumerate(ahead) if at not in left_out]
    return len(pack([*served, *mine], bars, **rules).unmet)


def _lead_time(branch: Branch, part: Part, least_ticks: int, on: date) -> tuple[date | None, str]:
    prices = SupplierPart.objects.filter(
        Q(length_ticks=0) if not part.is_bar else Q(length_ticks__gte=least_ticks),
        part=part,
        supplier__company=branch.company_id,
    ).select_related("supplier")
    days = [price.days for price in prices]
    return (on + timedelta(days=min(days)), "lead_time") if days else (None, "none")


def shortage_list(
    branch: Branch,
    short: Sequence[Shortage],
    parts: Mapping[int, Part],
    *,
    on: date,
    rank: Rank,
) -> list[dict[str, Any]]:
    """Return the facts of a refusal: part, wanted, available, short, when it could be met."""
    needs = [Need(one.part_pk, one.wanted, one.length_ticks) for one in short]
    rows = []
    for one, found in zip(short, promise(branch, needs, parts, on=on, rank=rank), strict=True):
        row: dict[str, Any] = {
            "part": parts[one.part_pk].code,
            "wanted": one.wanted,
            "available": one.wanted - one.short,
            "short": one.short,
            "expected_on": found.on.isoformat() if found.on else None,
            "source": found.source,
        }
        if one.length_ticks:
            row["length"] = format_length(one.length_ticks)
        rows.append(row)
    return rows
