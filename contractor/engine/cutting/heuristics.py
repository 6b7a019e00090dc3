"""Plain rules: first-fit and best-fit decreasing over several stock lengths and offcuts.

Pieces go longest first into an open bar with room (the first, or the fullest); where there is
none a bar is opened by one of three rules. Afterwards every bar's content moves to the cheapest
bar type that is left and holds it. No clock and no chance: same input, same plan.
"""

from __future__ import annotations

from collections import Counter
from typing import Literal

from contractor.engine.cutting.problem import Cuts, Pattern, Problem

Fit = Literal["first", "best"]
Opening = Literal["shortest", "cheapest", "cheapest_per_length"]
OPENINGS: tuple[Opening, ...] = ("shortest", "cheapest", "cheapest_per_length")


class _Bin:
    __slots__ = ("bar", "content", "room")

    def __init__(self, bar: int, room: int) -> None:
        self.bar = bar
        self.room = room
        self.content: list[tuple[int, int]] = []

    def put(self, size: int, width: int, most: int) -> int:
        number = min(most, self.room // width)
        if number:
            self.content.append((size, number))
            self.room -= number * width
        return number


def decreasing(problem: Problem, fit: Fit, opening: Opening) -> tuple[Cuts, tuple[int, ...]]:
    """Return (cuts, unmet per size) of one rule; unmet is all zeros unless supplies run out."""
    left = [bar.supply for bar in problem.bars]
    rank = _opening_rank(problem, opening)
    bins: list[_Bin] = []
    unmet = [0] * len(problem.widths)
    for size, width in enumerate(problem.widths):
        need = problem.demands[size]
        for candidate in _fit_order(bins, width, fit):
            need -= candidate.put(size, width, need)
            if not need:
                break
        while need:
            opened = _open(problem, left, rank, width)
            if opened is None:
                unmet[size] = need
                break
            need -= opened.put(size, width, need)
            bins.append(opened)
    cuts = Counter(Pattern(one.bar, tuple(one.content)) for one in bins)
    return downsize(problem, dict(cuts)), tuple(unmet)


def _fit_order(bins: list[_Bin], width: int, fit: Fit) -> list[_Bin]:
    fitting = [one for one in bins if one.room >= width]
    if fit == "best":
        fitting.sort(key=lambda one: one.room)
    return fitting


def _opening_rank(problem: Problem, opening: Opening) -> list[int]:
    def key(at: int) -> tuple[float, int, int]:
        bar = problem.bars[at]
        first = {
            "shortest": float(bar.capacity),
            "cheapest": float(bar.cost),
            "cheapest_per_length": bar.cost / max(1, bar.capacity),
        }[opening]
        return (first, -bar.capacity, at)

    return sorted(range(len(problem.bars)), key=key)


def _open(problem: Problem, left: list[int], rank: list[int], width: int) -> _Bin | None:
    for at in rank:
        if left[at] and problem.bars[at].capacity >= width:
            left[at] -= 1
            return _Bin(at, problem.bars[at].capacity)
    return None


def downsize(problem: Problem, cuts: Cuts) -> Cuts:
    """Return the cuts with each bar exchanged for the cheapest type in supply that holds it.

    In a coarse unit a pattern known to fit may look too wide for every bar: it keeps its own.
    """
    if len(problem.bars) == 1:
        return cuts
    left = [bar.supply for bar in problem.bars]
    for pattern, count in cuts.items():
        left[pattern.bar] -= count
    cheap = sorted(range(len(problem.bars)), key=lambda at: problem.bars[at].cost)
    better = Counter[Pattern]()
    single = [pattern for pattern, count in sorted(cuts.items()) for _ in range(count)]
    single.sort(key=lambda pattern: -problem.bars[pattern.bar].cost)
    for pattern in single:
        left[pattern.bar] += 1
        width = problem.width(pattern.content)
        fits = (at for at in cheap if left[at] > 0 and problem.bars[at].capacity >= width)
        at = next(fits, pattern.bar)
        left[at] -= 1
        better[Pattern(at, pattern.content)] += 1
    return dict(better)


def best_rule(
    problem: Problem, fits: tuple[Fit, ...] = ("first", "best")
) -> tuple[Cuts, tuple[int, ...]]:
    """Return the cheapest plan of the plain rules among those with the fewest unmet pieces."""
    plans = [decreasing(problem, fit, opening) for fit in fits for opening in OPENINGS]
    return min(plans, key=lambda plan: (sum(plan[1]), problem.cost(plan[0])))
