"""The linear master of column generation: which patterns how often, as HiGHS holds it.

Rows: one per size (at least the demand), one per bar type (least and most bars), and rows on
"bars of type k or longer", added when a search first branches on them. Columns: patterns; one
stand-in per size at a high price, so that the rows can always be met; exchange columns (a place
for a size can hold the next smaller one) that steady the dual prices at the start and are shut
off before the end.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass

import highspy
import numpy as np
import numpy.typing as npt

from contractor.engine.cutting.problem import Pattern, Problem

Floats = npt.NDArray[np.float64]
Range = tuple[int, int]


@dataclass(frozen=True)
class Region:
    """Least and most bars: per type, and of type k or longer for each k in ``tails``.

    Bar types come in rising capacity, so tail 0 counts all bars.
    """

    box: tuple[Range, ...]
    tails: Mapping[int, Range]

    def is_empty(self) -> bool:
        """Whether no bar counts lie in it: the sums from the longest type down have no room."""
        least = most = 0
        for kind in reversed(range(len(self.box))):
            low, high = self.box[kind]
            first, last = self.tails.get(kind, (0, most + high))
            if low > high:
                return True
            least, most = max(least + low, first), min(most + high, last)
            if least > most:
                return True
        return False


@dataclass(frozen=True)
class Prices:
    """Dual prices: per size; per bar type what a bar costs beside its price; per tail row."""

    sizes: Floats
    fees: Floats
    tails: Mapping[int, float]

    def toward(self, other: Prices, share: float) -> Prices:
        """Return these prices moved by ``share`` of the way to ``other``."""
        tails = {}
        for tail, dual in other.tails.items():
            mine = self.tails.get(tail, 0.0)
            tails[tail] = mine + share * (dual - mine)
        sizes = self.sizes + share * (other.sizes - self.sizes)
        return Prices(sizes, self.fees + share * (other.fees - self.fees), tails)


class Master:
    """A linear program over a growing set of patterns."""

    def __init__(self, problem: Problem, stand_in_price: float) -> None:
        self.problem = problem
        self.sizes = len(problem.widths)
        self.patterns: list[Pattern] = []
        self.known: dict[Pattern, int] = {}
        self.highs = quiet_highs()
        self.lp_iterations = 0
        self.tails: list[int] = []
        self.dearest = np.full(self.sizes, stand_in_price)
        self.limits = self.dearest
        self._add_rows()
        self._add_fixed_columns(stand_in_price)
        # A bar bought and left whole: the least counts of a region can always be met.
        self.add(Pattern(bar, ()) for bar in range(len(problem.bars)))

    def fork(self, most: int) -> Master:
        """Return a master of its own at the same solution, with about ``most`` patterns."""
        other = copy(self)
        other.patterns, other.known = list(self.patterns), dict(self.known)
        other.tails, other.lp_iterations = list(self.tails), 0
        other.highs = quiet_highs()
        other.highs.passModel(self.highs.getLp())
        other.highs.setBasis(self.highs.getBasis())
        if other.solve():
            other.purge(most)
        return other

    def _add_rows(self) -> None:
        problem, infinity = self.problem, highspy.kHighsInf
        rows = self.sizes + len(problem.bars)
        lower = np.zeros(rows)
        upper = np.full(rows, infinity)
        lower[: self.sizes] = problem.demands
        empty = np.empty(0, dtype=np.int32)
        starts = np.zeros(rows, dtype=np.int32)
        self.highs.addRows(rows, lower, upper, 0, starts, empty, np.empty(0))

    def _add_fixed_columns(self, price: float) -> None:
        sizes, infinity = self.sizes, highspy.kHighsInf
        count = 2 * sizes - 1
        costs = np.zeros(count)
        costs[:sizes] = price
        starts = np.concatenate([np.arange(sizes), sizes + 2 * np.arange(sizes - 1)])
        index = list(range(sizes))
        value = [1.0] * sizes
        for size in range(sizes - 1):
            index += [size, size + 1]
            value += [-1.0, 1.0]
        self.highs.addCols(
            count,
            costs,
            np.zeros(count),
            np.full(count, infinity),
            len(index),
            starts.astype(np.int32),
            np.array(index, dtype=np.int32),
            np.array(value),
        )
        self.fixed = count

    def add(self, patterns: Iterable[Pattern]) -> int:
        """Add the patterns not yet known; return how many were new."""
        fresh = [pattern for pattern in dict.fromkeys(patterns) if pattern not in self.known]
        if not fresh:
            return 0
        starts: list[int] = []
        index: list[int] = []
        value: list[float] = []
        for pattern in fresh:
            self.known[pattern] = len(self.patterns)
            self.patterns.append(pattern)
            starts.append(len(index))
            for size, number in pattern.content:
                index.append(size)
                value.append(float(number))
            rows = self._bar_rows(pattern.bar)
            index += rows
            value += [1.0] * len(rows)
        count = len(fresh)
        self.highs.addCols(
            count,
            np.array([float(self.problem.bars[pattern.bar].cost) for pattern in fresh]),
            np.zeros(count),
            np.full(count, highspy.kHighsInf),
            len(index),
            np.array(starts, dtype=np.int32),
            np.array(index, dtype=np.int32),
            np.array(value),
        )
        return count

    def _bar_rows(self, bar: int) -> list[int]:
        first = self.sizes + len(self.problem.bars)
        tails = [first + at for at, tail in enumerate(self.tails) if tail <= bar]
        return [self.sizes + bar, *tails]

    def add_tail(self, tail: int) -> None:
        """Add the row that counts the bars of type ``tail`` and longer, if it is not there."""
        if tail in self.tails:
            return
        self.tails.append(tail)
        inside = [at for at, one in enumerate(self.patterns) if one.bar >= tail]
        columns = np.array(inside, dtype=np.int32) + self.fixed
        infinity = highspy.kHighsInf
        self.highs.addRow(-infinity, infinity, len(inside), columns, np.ones(len(inside)))

    def set_demands(self, demands: Sequence[float]) -> None:
        """Ask for so many pieces of each size."""
        infinity = highspy.kHighsInf
        for size, need in enumerate(demands):
            self.highs.changeRowBounds(size, float(need), infinity)

    def set_region(self, region: Region) -> None:
        for at, (low, high) in enumerate(region.box):
            self.highs.changeRowBounds(self.sizes + at, float(low), float(high))
        for tail in region.tails:
            self.add_tail(tail)
        first, infinity = self.sizes + len(self.problem.bars), highspy.kHighsInf
        for at, tail in enumerate(self.tails):
            ends = region.tails.get(tail)
            least, most = (0.0, infinity) if ends is None else (float(ends[0]), float(ends[1]))
            self.highs.changeRowBounds(first + at, least, most)

    def limit_prices(self, limits: Floats | None) -> None:
        """Let a missing piece of each size cost no more than this; None: far more than any bar."""
        self.limits = self.dearest if limits is None else np.minimum(limits, self.dearest)
        columns = np.arange(self.sizes, dtype=np.int32)
        self.highs.changeColsCost(self.sizes, columns, self.limits)

    def raise_limits(self) -> bool:
        """Let missing pieces cost more, if the solution leans on them; say whether it did."""
        if self.stand_ins < 1e-9 or bool((self.limits >= self.dearest).all()):
            return False
        self.limit_prices(4.0 * self.limits)
        return True

    def allow_exchange(self, allowed: bool) -> None:
        high = highspy.kHighsInf if allowed else 0.0
        for column in range(self.sizes, self.fixed):
            self.highs.changeColBounds(column, 0.0, high)

    def allow(self, pattern: Pattern, is_allowed: bool) -> None:
        """Forbid a pattern or allow it again; nothing happens if it is not there."""
        if pattern in self.known:
            high = highspy.kHighsInf if is_allowed else 0.0
            self.highs.changeColBounds(self.fixed + self.known[pattern], 0.0, high)

    def solve(self, is_after_columns: bool = True) -> bool:
        """Solve; False when HiGHS gives no optimal basis (the caller gives up this node).

        New columns leave the basis primal feasible, new row bounds leave it dual feasible: the
        simplex variant follows.
        """
        self.highs.setOptionValue("simplex_strategy", 4 if is_after_columns else 1)
        self.highs.run()
        self.lp_iterations += max(0, self.highs.getInfo().simplex_iteration_count)
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return False
        solution = self.highs.getSolution()
        duals: Floats = np.array(solution.row_dual)
        self.prices = self._prices(duals)
        values: Floats = np.array(solution.col_value)
        self.stand_ins = float(values[: self.sizes].sum())
        self.exchanged = float(values[self.sizes : self.fixed].sum())
        self.counts: Floats = values[self.fixed :]
        self.value = float(self.highs.getInfo().objective_function_value)
        return True

    def _prices(self, duals: Floats) -> Prices:
        """Return the prices of a solution; the fee of a bar is minus the duals of its rows."""
        bars = len(self.problem.bars)
        fees = -duals[self.sizes : self.sizes + bars]
        tails: dict[int, float] = {}
        for at, tail in enumerate(self.tails):
            tails[tail] = float(duals[self.sizes + bars + at])
            fees[tail:] -= tails[tail]
        return Prices(duals[: self.sizes], fees, tails)

    def reduced_costs(self) -> Floats:
        """Return the reduced costs of the patterns at the last solution."""
        costs: Floats = np.array(self.highs.getSolution().col_dual)[self.fixed :]
        return costs

    def purge(self, most: int) -> None:
        """Keep two thirds of ``most`` patterns when there are more: cheap and young ones stay."""
        if len(self.patterns) <= most or len(self.counts) != len(self.patterns):
            return
        reduced = self.reduced_costs()
        basic = highspy.HighsBasisStatus.kBasic
        status = self.highs.getBasis().col_status[self.fixed :]
        for at, state in enumerate(status):
            if state == basic:
                reduced[at] = -1.0
        reduced[: len(self.problem.bars)] = -1.0
        order = np.argsort(reduced[::-1], kind="stable")
        drop = np.sort(len(reduced) - 1 - order[most * 2 // 3 :])
        drop = drop[reduced[drop] >= 0.0]
        self.highs.deleteCols(len(drop), (drop + self.fixed).astype(np.int32))
        gone = set(drop.tolist())
        self.patterns = [one for at, one in enumerate(self.patterns) if at not in gone]
        self.known = {pattern: at for at, pattern in enumerate(self.patterns)}
        self.counts = np.delete(self.counts, drop)

    def bar_counts(self) -> Floats:
        """Return how many bars of each type the solution uses."""
        solved = self.patterns[: len(self.counts)]
        kinds = np.array([pattern.bar for pattern in solved], dtype=np.int64)
        bars = len(self.problem.bars)
        return np.bincount(kinds, weights=self.counts, minlength=bars).astype(np.float64)


def quiet_highs() -> highspy.Highs:
    """Return a silent single-threaded solver.

    The base class of ``highspy.Highs``: that one switches callbacks on when it is made, which
    prints a banner before anyone can say no.
    """
    highs = highspy.Highs.__base__()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("presolve", "off")
    highs.setOptionValue("primal_simplex_bound_perturbation_multiplier", 0.0)
    highs.setOptionValue("dual_simplex_cost_perturbation_multiplier", 0.0)
    return highs
