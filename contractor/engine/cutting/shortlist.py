"""Shorten a full list of patterns: leave out what no plan within a cost limit can use.

A linear program over the list (each piece exactly as often as wanted) is solved with a few of
its patterns at a time; odd sets of pieces cut off what only fractions of bars can hold. Its
duals in whole numbers say what one use of each pattern makes a plan cost at least.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random
from typing import TypeVar

import highspy
import numpy as np
import numpy.typing as npt

from contractor.engine.cutting.knapsack import Whole
from contractor.engine.cutting.master import Floats, quiet_highs
from contractor.engine.cutting.oddsets import OddSet, overfilled
from contractor.engine.cutting.problem import Pattern, Problem
from contractor.engine.cutting.scaling import LARGE

#: Patterns that enter the linear program per pass, and rounds of new odd sets.
PER_PASS = 200
ROUNDS = 20
SMALL = 1e-7
#: A bar counts no more of an odd set than this.
MOST_HELD = 2**15 - 1
#: Counted work to look for odd sets, per pair of sizes in a bar.
JOINING = 10_000
Numbers = TypeVar("Numbers", Floats, Whole)


class Shortlist:
    """``most[q]``: how often a plan of cost ``limit`` or less can use pattern q.

    ``patterns`` must hold every pattern of such plans; ``is_empty``: there is no such plan.
    """

    def __init__(self, problem: Problem, patterns: Sequence[Pattern], limit: int) -> None:
        self.problem = problem
        self.patterns = list(patterns)
        self.limit = limit
        self.is_empty = not patterns
        self.work = 0
        self.costs = np.array([problem.bars[q.bar].cost for q in patterns], dtype=np.int64)
        self.most = np.array([self._most_uses(q) for q in patterns], dtype=np.int64)
        self.room: list[int] = [*problem.demands, *(bar.supply for bar in problem.bars)]
        self.sets: list[npt.NDArray[np.int16]] = []
        self._lay_out()
        self._load()

    def shorten(self, is_stopped: Callable[[int], bool], random: Random) -> None:
        """Lower ``most`` as far as some rounds of odd sets allow."""
        for _ in range(ROUNDS):
            if self.is_empty or not self._converge(is_stopped):
                return
            self._fix()
            if self.lacking > SMALL:
                return
            used = np.flatnonzero(self.uses > SMALL)
            contents = [self.patterns[self.listed[at]].content for at in used]
            sets = overfilled(contents, self.uses[used], self.problem.demands, random)
            self.work += JOINING * sum(len(content) ** 2 for content in contents)
            if not sets:
                return
            for one in sets:
                self._cut(one)

    def left(self) -> list[int]:
        """Return which patterns can still be used."""
        return [] if self.is_empty else [int(at) for at in np.flatnonzero(self.most)]

    def _most_uses(self, pattern: Pattern) -> int:
        """Return how often demands, supply and limit let a pattern be used."""
        bar, needs = self.problem.bars[pattern.bar], self.problem.demands
        most = min(needs[size] // number for size, number in pattern.content)
        return min(most, bar.supply, self.limit // bar.cost if bar.cost else most)

    def _lay_out(self) -> None:
        """List (row, number) of all patterns: their pieces, then their bar."""
        sizes = len(self.problem.widths)
        starts, rows, numbers = [0], list[int](), list[int]()
        for pattern in self.patterns:
            rows += [*(size for size, _ in pattern.content), sizes + pattern.bar]
            numbers += [*(number for _, number in pattern.content), 1]
            starts.append(len(rows))
        self.starts = np.array(starts, dtype=np.int64)
        self.rows = np.array(rows, dtype=np.int64)
        self.numbers = np.array(numbers, dtype=np.int64)

    def _load(self) -> None:
        """Start with rows alone: pieces missing or too many cost more than any bar."""
        self.highs = quiet_highs()
        sizes, rows = len(self.problem.widths), len(self.room)
        upper = np.array(self.room, dtype=np.float64)
        lower = np.concatenate([upper[:sizes], np.zeros(rows - sizes)])
        none, empty = np.zeros(rows, dtype=np.int32), np.empty(0, dtype=np.int32)
        self.highs.addRows(rows, lower, upper, 0, none, empty, np.empty(0))
        price = 4.0 * max(1.0, float(self.costs.max(initial=0)))
        every = np.arange(sizes, dtype=np.int32)
        for sign in (1.0, -1.0):
            self._add_columns(np.full(sizes, price), every, every, np.full(sizes, sign))
        self.listed: list[int] = []
        self.is_listed = np.zeros(len(self.patterns), dtype=np.bool_)

    def _add_columns(
        self,
        costs: Floats,
        starts: npt.NDArray[np.int32],
        rows: npt.NDArray[np.int32],
        numbers: Floats,
    ) -> None:
        count = len(costs)
        low, high = np.zeros(count), np.full(count, highspy.kHighsInf)
        self.highs.addCols(count, costs, low, high, len(rows), starts, rows, numbers)

    def _converge(self, is_stopped: Callable[[int], bool]) -> bool:
        """Solve over the whole list; False: stopped, or no optimum."""
        least = SMALL * max(1.0, float(self.costs.max()))
        while not is_stopped(self.work):
            self.highs.run()
            pivots = max(0, self.highs.getInfo().simplex_iteration_count)
            self.work += pivots * len(self.room) * 20 + 4 * len(self.rows)
            self.work += len(self.sets) * len(self.patterns)
            if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                return False
            solution = self.highs.getSolution()
            self.duals: Floats = np.array(solution.row_dual)
            reduced = self.costs - self._worth(self.duals)
            reduced[self.is_listed | (self.most == 0)] = 0.0
            best = np.argsort(reduced, kind="stable")[:PER_PASS]
            fresh = best[reduced[best] < -least]
            if not len(fresh):
                values: Floats = np.array(solution.col_value)
                sizes = len(self.problem.widths)
                self.lacking = float(values[: 2 * sizes].sum())
                self.uses: Floats = values[2 * sizes :]
                return True
            self._list(fresh)
        return False

    def _worth(self, duals: Numbers) -> Numbers:
        """Return what the rows that each pattern takes part in are worth."""
        worth: Numbers = np.add.reduceat(duals[self.rows] * self.numbers, self.starts[:-1])
        first = len(self.room) - len(self.sets)
        for dual, held in zip(duals[first:], self.sets, strict=True):
            if dual:
                worth += dual * held
        return worth

    def _list(self, fresh: Whole) -> None:
        """Let these patterns into the linear program."""
        first = len(self.room) - len(self.sets)
        starts, rows, numbers = list[int](), list[int](), list[int]()
        for at in fresh.tolist():
            begin, end = self.starts[at : at + 2]
            held = {first + row: int(one[at]) for row, one in enumerate(self.sets) if one[at]}
            starts.append(len(rows))
            rows += [*self.rows[begin:end].tolist(), *held]
            numbers += [*self.numbers[begin:end].tolist(), *held.values()]
        self._add_columns(
            self.costs[fresh].astype(np.float64),
            np.array(starts, dtype=np.int32),
            np.array(rows, dtype=np.int32),
            np.array(numbers, dtype=np.float64),
        )
        self.listed += fresh.tolist()
        self.is_listed[fresh] = True

    def _cut(self, one: OddSet) -> None:
        """Let bars hold no more of an odd set than whole bars can."""
        is_in = np.zeros(len(self.room), dtype=np.int64)
        is_in[list(one)] = 1
        held = np.add.reduceat(is_in[self.rows] * self.numbers, self.starts[:-1]) // 2
        held = np.minimum(held, MOST_HELD)
        room = sum(self.problem.demands[size] for size in one) // 2
        listed = held[self.listed]
        inside = np.flatnonzero(listed)
        columns = (inside + 2 * len(self.problem.widths)).astype(np.int32)
        values = listed[inside].astype(np.float64)
        self.highs.addRow(-highspy.kHighsInf, float(room), len(inside), columns, values)
        self.sets.append(held.astype(np.int16))
        self.room.append(room)

    def _whole_duals(self) -> tuple[Whole, int]:
        """Return the duals times a scale, as whole numbers that 64 bits can add up.

        Any duals do, only none above zero for a row with an upper end alone.
        """
        numbers = np.add.reduceat(self.numbers, self.starts[:-1])
        for held in self.sets:
            numbers += held
        largest = min(2**40, LARGE // (1 + int(numbers.max())))
        top = max(1.0, float(np.abs(self.duals).max()), float(self.costs.max()))
        scale = max(1, int(largest / top))
        ends = -float(largest), float(largest)
        whole: Whole = np.round(np.clip(self.duals * scale, *ends)).astype(np.int64)
        sizes = len(self.problem.widths)
        whole[sizes:] = np.minimum(whole[sizes:], 0)
        return whole, scale

    def _fix(self) -> None:
        """Lower ``most`` by reduced costs; all in whole numbers, true for any duals."""
        whole, scale = self._whole_duals()
        reduced = self.costs * scale - self._worth(whole)
        raw = sum(dual * room for dual, room in zip(whole.tolist(), self.room, strict=True))
        cheap = np.flatnonzero(reduced < 0)
        raw += sum(
            one * most
            for one, most in zip(reduced[cheap].tolist(), self.most[cheap].tolist(), strict=True)
        )
        self.is_empty = self.problem.round_up(raw, scale) > self.limit
        slack = min(max(0, self.limit * scale - raw), LARGE)
        self.most = np.where(
            reduced > 0, np.minimum(self.most, slack // np.maximum(reduced, 1)), self.most
        )
