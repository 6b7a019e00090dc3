"""List every pattern that a plan cheaper than the best known could still use.

With whole duals proven for a region, a plan that uses a pattern costs at least the proven bound
plus what the pattern's worth lacks to the best of its bar type. All contents within that slack
are listed, size by size, all bar types side by side; a table of best worths over the smaller
sizes cuts off every beginning that cannot end well, so that nothing is looked at in vain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from contractor.engine.cutting.knapsack import Table, Whole
from contractor.engine.cutting.problem import Pattern, Problem

#: The table of best worths may take this many bytes.
MAX_TABLE = 400_000_000


@dataclass
class _Front:
    """Beginnings of patterns: bar type, room left, worth so far, and where they come from."""

    bar: Whole
    room: Whole
    worth: Whole
    link: Whole


def best_tables(problem: Problem, values: Whole, kind: str = "int64") -> Table | None:
    """Return best[s, c]: the most that sizes s.. (the smaller ones) are worth in room c.

    ``kind`` "int32" is for values that never add up to 2^31.
    """
    sizes, columns = len(problem.widths), problem.capacity + 1
    if sizes * columns * np.dtype(kind).itemsize > MAX_TABLE:
        return None
    best: Table = np.zeros((sizes + 1, columns), dtype=kind)
    for size in range(sizes - 1, -1, -1):
        best[size] = best[size + 1]
        width, left, number = problem.widths[size], problem.demands[size], 1
        left = min(left, problem.capacity // width)
        while left > 0:
            take = min(number, left)
            step, row = take * width, best[size]
            if step < columns:
                np.maximum(row[step:], row[:-step] + take * int(values[size]), out=row[step:])
            left -= take
            number *= 2
    return best


def patterns_within(
    problem: Problem, values: Whole, least: Sequence[int], most: int
) -> list[Pattern] | None:
    """Return all patterns of bar type b worth at least ``least[b]``; None: more than ``most``."""
    best = best_tables(problem, values)
    if best is None or not problem.widths:
        return None
    rooms = np.array([bar.capacity for bar in problem.bars], dtype=np.int64)
    needs = np.array(least, dtype=np.int64)
    alive = np.flatnonzero(best[0, rooms] >= needs)
    front = _Front(alive, rooms[alive], np.zeros_like(alive), np.full_like(alive, -1))
    links = _Links()
    for size in range(len(problem.widths)):
        if not len(front.bar):
            return []
        grown = links.grow(problem, size, int(values[size]), best[size + 1], needs, front, most)
        if grown is None:
            return None
        front = grown
    return links.read(front)


class _Links:
    """Which number of which size was added to which beginning."""

    def __init__(self) -> None:
        self.parents: list[Whole] = []
        self.added: list[tuple[int, int, int]] = []
        self.made = 0

    def grow(
        self,
        problem: Problem,
        size: int,
        value: int,
        best: Table,
        needs: Whole,
        front: _Front,
        most: int,
    ) -> _Front | None:
        """Return all beginnings with 0, 1, ... pieces of ``size`` that can still end well.

        None: more than ``most`` (each of them ends in a pattern at least).
        """
        parts: list[_Front] = []
        total = 0
        for number in range(problem.demands[size] + 1):
            room = front.room - number * problem.widths[size]
            fits = np.flatnonzero(room >= 0)
            if not len(fits):
                break
            worth = front.worth[fits] + number * value
            good = worth + best[room[fits]] >= needs[front.bar[fits]]
            keep = fits[good]
            total += len(keep)
            if total > most:
                return None
            link = self._link(front.link[keep], size, number) if number else front.link[keep]
            parts.append(_Front(front.bar[keep], room[keep], worth[good], link))
        return _Front(
            np.concatenate([part.bar for part in parts]),
            np.concatenate([part.room for part in parts]),
            np.concatenate([part.worth for part in parts]),
            np.concatenate([part.link for part in parts]),
        )

    def _link(self, parents: Whole, size: int, number: int) -> Whole:
        self.parents.append(parents)
        self.added.append((size, number, len(parents)))
        self.made += len(parents)
        return np.arange(self.made - len(parents), self.made, dtype=np.int64)

    def read(self, front: _Front) -> list[Pattern]:
        parents = np.concatenate(self.parents).tolist() if self.parents else []
        added = [(size, number) for size, number, times in self.added for _ in range(times)]
        found: list[Pattern] = []
        for bar, link in zip(front.bar.tolist(), front.link.tolist(), strict=True):
            content: list[tuple[int, int]] = []
            at = link
            while at >= 0:
                content.append(added[at])
                at = parents[at]
            if content:
                found.append(Pattern(bar, tuple(reversed(content))))
        return found
