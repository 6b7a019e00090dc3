"""A re-plan that leaves tickets alone: as few changed bars as the cost allows.

Unsawn bars whose pieces are all still wanted as they are stay; only the rest is planned. That
plan wins where it costs no more than a plan from scratch.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from contractor.engine.cutting import CutPlan
from contractor.engine.cutting.model import Bar
from inventory.cutlists import Inputs, bar_place, stock_id
from inventory.locks import PlaceKey
from inventory.models import CutPlanBar

if TYPE_CHECKING:
    from inventory.computing import Solver


@dataclass(frozen=True)
class Kept:
    """A bar that may stay as it is."""

    place: PlaceKey
    lines: tuple[tuple[int, int], ...]
    left_ticks: int
    is_kept: bool


def still_good(inputs: Inputs, rows: Sequence[CutPlanBar]) -> list[Kept]:
    """Return the bars whose every piece is still wanted, at the length on the ticket."""
    open_counts = Counter({one.line_pk: one.count for one in inputs.wanted})
    lengths = {one.line_pk: one.length_ticks for one in inputs.wanted}
    found: list[Kept] = []
    for row in rows:
        pieces = list(row.pieces.order_by("position").values_list("kit_line", "length_ticks"))
        counts = Counter(line for line, _ in pieces)
        is_current = all(lengths.get(line) == length for line, length in pieces)
        if is_current and counts <= open_counts:
            open_counts -= counts
            found.append(
                Kept(bar_place(row), tuple(sorted(counts.items())), row.left_ticks, row.is_kept)
            )
    return found


def fewest_changes(
    inputs: Inputs, rows: Sequence[CutPlanBar], fresh: CutPlan, solve_it: Solver
) -> CutPlan:
    """Return ``fresh``, or a plan of no higher cost that keeps the bars that are still good.

    The bound is that of ``fresh``: it holds for any plan of the same pieces and bars.
    """
    kept = still_good(inputs, rows)
    rest = _rest(inputs, kept)
    if not kept or fresh.unmet or rest is None:
        return fresh
    more = solve_it(rest.document()) if rest.wanted else CutPlan((), 0, 0, True)
    cents = {bar.place: bar.cents for bar in inputs.bars}
    cost = sum(cents[one.place] for one in kept) + more.cost
    if more.unmet or cost > fresh.cost:
        return fresh
    return CutPlan(
        bars=(*(_bar(one) for one in kept), *more.bars),
        cost=cost,
        bound=min(fresh.bound, cost),
        is_proven=fresh.bound >= cost,
        seconds=fresh.seconds + more.seconds,
        method=f"{more.method or fresh.method}; {len(kept)} bars kept"[:200],
    )


def _rest(inputs: Inputs, kept: Sequence[Kept]) -> Inputs | None:
    """Return what is left to plan beside the kept bars; None when no bar left holds a piece."""
    used = Counter(one.place for one in kept)
    cut: Counter[int] = Counter()
    for one in kept:
        cut.update(dict(one.lines))
    wanted = tuple(
        replace(one, count=one.count - cut[one.line_pk])
        for one in inputs.wanted
        if one.count > cut[one.line_pk]
    )
    longest = max((one.length_ticks for one in wanted), default=0)
    bars = tuple(
        replace(bar, count=bar.count - used[bar.place])
        for bar in inputs.bars
        if bar.count > used[bar.place]
    )
    if wanted and not any(bar.length_ticks - inputs.end_trim_ticks >= longest for bar in bars):
        return None
    return replace(inputs, wanted=wanted, bars=bars)


def _bar(one: Kept) -> Bar:
    pieces = tuple((str(line), count) for line, count in one.lines)
    return Bar(stock_id(one.place), 1, pieces, one.left_ticks, one.is_kept)
