"""Find the sizes that few patterns can hold, with all patterns of each.

Every size starts a list of its own with one piece of it. Then size by size all lists grow side
by side by every number of pieces that can still end well; a list that gets too long is given up.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from contractor.engine.cutting.enumeration import best_tables
from contractor.engine.cutting.knapsack import Table, Whole
from contractor.engine.cutting.problem import Content, Problem


def scarce_sizes(
    problem: Problem, values: Whole, least: int, most: int
) -> dict[int, list[Content]]:
    """Return all contents worth at least ``least`` for each size that at most ``most`` hold.

    Bars are of one type. Contents come in rising size index. A size that none holds has an
    empty list; nothing at all is returned where the tables would be too large.
    """
    best = best_tables(problem, values, "int32")
    if best is None:
        return {}
    lists = _Lists(problem, values)
    lists.keep(lists.worth + best[0][lists.room] >= least)
    given_up: set[int] = set()
    for size in range(len(problem.widths)):
        lists.grow(size, int(values[size]), best[size + 1], least)
        given_up |= lists.give_up(most)
    return lists.read(given_up)


#: So many beginnings are looked at side by side.
MOST_IN_ALL = 100_000


class _Lists:
    """Beginnings: whose list they are on, room left, worth so far, and where they come from."""

    def __init__(self, problem: Problem, values: Whole) -> None:
        self.problem = problem
        self.owner: Whole = np.arange(len(problem.widths))
        self.room: Whole = problem.bars[0].capacity - np.array(problem.widths, dtype=np.int64)
        self.worth: Whole = values.copy()
        self.link: Whole = np.full(len(self.owner), -1, dtype=np.int64)
        self.parents: list[Whole] = []
        self.added: list[tuple[int, int, int]] = []
        self.made = 0

    def keep(self, kept: npt.NDArray[np.bool_]) -> None:
        self.owner, self.room = self.owner[kept], self.room[kept]
        self.worth, self.link = self.worth[kept], self.link[kept]

    def grow(self, size: int, value: int, best: Table, least: int) -> None:
        """Go on with 0, 1, ... pieces of ``size`` more; its owner's list has one already."""
        width, demand = self.problem.widths[size], self.problem.demands[size]
        parts = []
        for number in range(demand + 1):
            room = self.room - number * width
            fits = room >= 0
            if number == demand:
                fits &= self.owner != size
            at = np.flatnonzero(fits)
            if not len(at):
                break
            worth = self.worth[at] + number * value
            good = worth + best[room[at]] >= least
            at, worth = at[good], worth[good]
            link = self._link(at, size, number) if number else self.link[at]
            parts.append((self.owner[at], room[at], worth, link))
        columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
        if columns:
            self.owner, self.room, self.worth, self.link = columns
        else:
            self.keep(np.zeros(len(self.owner), dtype=np.bool_))

    def _link(self, at: Whole, size: int, number: int) -> Whole:
        self.parents.append(self.link[at])
        self.added.append((size, number, len(at)))
        self.made += len(at)
        return np.arange(self.made - len(at), self.made, dtype=np.int64)

    def give_up(self, most: int) -> set[int]:
        """Drop the lists that are too long; return whose they are."""
        lengths = np.bincount(self.owner, minlength=len(self.problem.widths))
        is_long = lengths > most
        while len(self.owner) - int(lengths[is_long].sum()) > MOST_IN_ALL:
            most //= 2
            is_long = lengths > most
        if is_long.any():
            self.keep(~is_long[self.owner])
        return set(np.flatnonzero(is_long).tolist())

    def read(self, given_up: set[int]) -> dict[int, list[Content]]:
        parents = np.concatenate(self.parents).tolist() if self.parents else []
        added = [(size, number) for size, number, times in self.added for _ in range(times)]
        found: dict[int, list[Content]] = {
            size: [] for size in range(len(self.problem.widths)) if size not in given_up
        }
        for owner, link in zip(self.owner.tolist(), self.link.tolist(), strict=True):
            held = {owner: 1}
            at = link
            while at >= 0:
                size, number = added[at]
                held[size] = held.get(size, 0) + number
                at = parents[at]
            found[owner].append(tuple(sorted(held.items())))
        return found
