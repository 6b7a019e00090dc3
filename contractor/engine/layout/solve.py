"""The exact best choice of places: a shortest path in whole ticks, one criterion after another.

Order: fewest braces, fewest specials, smallest largest spacing, least sum of squared spacings
and squared corner differences, leftmost. Each criterion is a dynamic program over the arcs that
the criteria before it leave tied, so the answer is exact and the same every time.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

_NEVER = -1  # no way on from this place


@dataclass(frozen=True)
class Limits:
    """What a row of braces must keep to, in ticks."""

    length: int
    corner_ideal: int
    corner_min: int
    corner_max: int
    spacing_min: int
    spacing_max: int

    def may_start(self, at: int) -> bool:
        return self.corner_min <= at <= self.corner_max

    def may_end(self, at: int) -> bool:
        return self.corner_min <= self.length - at <= self.corner_max


def best_path(at: Sequence[int], cost: Sequence[int], limits: Limits) -> list[int] | None:
    """Return the indices of the best places, None when no row of braces keeps the limits.

    ``at`` is sorted; ``cost`` is the number of specials of each place.
    """
    path = _Path(at, cost, limits)
    return path.trace() if path.best_count != _NEVER else None


def next_windows(at: Sequence[int], limits: Limits) -> list[tuple[int, int]]:
    """Return for each place the range [low, high) of places that may follow it."""
    windows = []
    low = high = 0
    for here in at:
        while low < len(at) and at[low] < here + limits.spacing_min:
            low += 1
        while high < len(at) and at[high] <= here + limits.spacing_max:
            high += 1
        windows.append((low, max(low, high)))
    return windows


class _Path:
    """The dynamic programs, from the right end of the wall to the left."""

    def __init__(self, at: Sequence[int], cost: Sequence[int], limits: Limits) -> None:
        self.at = at
        self.limits = limits
        self.windows = next_windows(at, limits)
        # One brace outweighs all specials, so one number carries both criteria.
        brace = sum(cost) + 1
        self.step = [brace + special for special in cost]
        self.count = self._fewest()
        starts = [i for i, here in enumerate(at) if limits.may_start(here)]
        possible = [self.count[i] for i in starts if self.count[i] != _NEVER]
        self.best_count = min(possible, default=_NEVER)
        self.starts = [i for i in starts if self.count[i] == self.best_count]
        self.tied = self._tied_successors() if possible else {}

    def _fewest(self) -> list[int]:
        """Return the least weight of braces and specials from each place to the right end."""
        best = [_NEVER] * len(self.at)
        ahead: deque[int] = deque()  # indices, nearest first; the least weight is last
        entered = len(self.at)
        for i in range(len(self.at) - 1, -1, -1):
            low, high = self.windows[i]
            while entered > low:
                entered -= 1
                if best[entered] != _NEVER:
                    while ahead and best[ahead[0]] >= best[entered]:
                        ahead.popleft()
                    ahead.appendleft(entered)
            while ahead and ahead[-1] >= high:
                ahead.pop()
            if self.limits.may_end(self.at[i]):
                best[i] = self.step[i]
            elif ahead:
                best[i] = self.step[i] + best[ahead[-1]]
        return best

    def _tied_successors(self) -> dict[int, list[int]]:
        """Return place -> places that follow it on some row with fewest braces and specials."""
        tied: dict[int, list[int]] = {}
        wanted = set(self.starts)
        for i in range(len(self.at)):
            if i not in wanted:
                continue
            rest = self.count[i] - self.step[i]
            low, high = self.windows[i]
            tied[i] = [j for j in range(low, high) if self.count[j] == rest] if rest else []
            wanted.update(tied[i])
        return tied

    def _smallest_largest_spacing(self) -> int:
        largest: dict[int, int] = {}
        for i in reversed(self.tied):
            largest[i] = min(
                (max(self.at[j] - self.at[i], largest[j]) for j in self.tied[i]), default=0
            )
        return min(largest[i] for i in self.starts)

    def _least_squares(self, spacing_max: int) -> dict[int, int]:
        """Return the least sum of squares from each tied place that still reaches the end."""
        squares: dict[int, int] = {}
        for i in reversed(self.tied):
            here = self.at[i]
            if not self.tied[i]:
                squares[i] = (self.limits.length - here - self.limits.corner_ideal) ** 2
                continue
            ways = [
                (self.at[j] - here) ** 2 + squares[j]
                for j in self.tied[i]
                if j in squares and self.at[j] - here <= spacing_max
            ]
            if ways:
                squares[i] = min(ways)
        return squares

    def trace(self) -> list[int]:
        """Return the leftmost row among the best."""
        spacing_max = self._smallest_largest_spacing()
        squares = self._least_squares(spacing_max)
        start = {
            i: squares[i] + (self.at[i] - self.limits.corner_ideal) ** 2
            for i in self.starts
            if i in squares
        }
        path = [min(start, key=lambda i: (start[i], i))]
        while following := self.tied[path[-1]]:
            here = path[-1]
            path.append(
                next(
                    j
                    for j in following
                    if j in squares
                    and self.at[j] - self.at[here] <= spacing_max
                    and squares[here] == (self.at[j] - self.at[here]) ** 2 + squares[j]
                )
            )
        return path
