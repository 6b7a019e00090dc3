"""What fits into a given number of bars, in fractions: scarce sizes by lists, others priced.

A size is *scarce* when all patterns that could hold it are listed as columns, so that they can
be barred or asked for at will; patterns of the other sizes alone come from the knapsack. That
something is impossible is proven by whole duals: with values v of the pieces and no bar holding
more than z of them, the pieces need at least sum(need x v) / z bars.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Self, cast

import numpy as np

from contractor.engine.cutting.contents import ContentProgram
from contractor.engine.cutting.knapsack import Buffers, Flags, Knapsack, Whole
from contractor.engine.cutting.master import Floats
from contractor.engine.cutting.problem import BarType, Content, Problem
from contractor.engine.cutting.scaling import Scaled, scale_duals

#: A missing piece costs its share of a bar and this part more, at first.
CHEAP = 0.00005
#: Beyond this part more, a program that still lacks pieces is given up.
DEAREST = 100.0
#: So many columns of sizes that are not scarce are kept, per size.
MOST_COLUMNS = 4
LESS = 1e-9
ABOUT = 1e-6


class Cover(ContentProgram):
    """``needs`` pieces of each size are left for ``bars`` bars."""

    def __init__(self, problem: Problem, bars: int, contents: Iterable[Content]) -> None:
        self.shares: Floats = np.array(problem.widths) / problem.capacity
        self.extra = CHEAP
        prices = self.shares * (1 + self.extra)
        super().__init__(np.array(problem.demands, dtype=np.int64), prices)
        # A bar costs 1 here, whatever it costs.
        bar = BarType(problem.capacity, 1, problem.pieces)
        self.problem = Problem(problem.widths, problem.demands, (bar,))
        self.bars = bars
        self.widths: Whole = np.array(problem.widths, dtype=np.int64)
        self.is_scarce: Flags = np.zeros(self.sizes, dtype=np.bool_)
        self.barred: Flags = np.zeros(0, dtype=np.bool_)
        self.per_pass = min(150, max(40, self.sizes // 2))
        self.buffers = Buffers()
        self.cells = 0
        # Optimal duals of all programs that led here: their sum is one, times their number.
        self.centre, self.turns = np.zeros(self.sizes), 0
        self.add(contents)
        self.refresh()

    @property
    def work(self) -> int:
        return self.cells + self.pivots * self.sizes * 20

    def fork(self) -> Self:
        """Return a copy that can go its own way."""
        other = cast(Self, self.copied())
        other.is_scarce = self.is_scarce.copy()
        return other

    def raise_prices(self, extra: float) -> None:
        """Let a missing piece cost its share of a bar and this part more."""
        self.extra = extra
        self.set_prices(self.shares * (1 + extra))

    def refresh(self) -> None:
        """Set up rows and pricing for the needs and the scarce sizes as they are now."""
        self.set_needs(self.needs.astype(float))
        self.open_sizes = np.flatnonzero((self.needs > 0) & ~self.is_scarce)
        self.knapsack: Knapsack | None = None
        if len(self.open_sizes):
            rest = self.open_problem()
            self.knapsack = Knapsack(rest.widths, rest.demands, [rest.capacity], self.buffers)

    def open_problem(self) -> Problem:
        """Return the sizes that are not scarce as a problem of their own, in their unit."""
        widths, needs = self.widths[self.open_sizes], self.needs[self.open_sizes]
        unit = int(np.gcd.reduce(widths))
        bar = BarType(self.problem.capacity // unit, 1, self.bars)
        return Problem(tuple((widths // unit).tolist()), tuple(needs.tolist()), (bar,))

    def has_need_of(self, content: Content) -> bool:
        return all(self.needs[size] >= number for size, number in content)

    def take(self, content: Content) -> None:
        """Decide on a bar: its pieces are needed no more. Columns and rows stay as they are."""
        self.bars -= 1
        for size, number in content:
            self.needs[size] -= number

    def are_listed(self) -> Flags:
        """Say which columns hold a scarce size."""
        return self.holding(np.flatnonzero(self.is_scarce).tolist())

    def price(self, duals: Floats) -> tuple[Scaled, int]:
        """Return the duals in whole numbers, and the most that open sizes are worth in a bar."""
        scaled = scale_duals(self.problem, duals)
        if self.knapsack is None:
            return scaled, 0
        self.knapsack.run(scaled.values[self.open_sizes], scaled.is_small)
        self.cells += self.knapsack.cells
        return scaled, int(self.knapsack.best_worth()[0])

    def new_contents(self, scale: int) -> list[Content]:
        """Return contents worth more than ``scale`` at the prices of the last pass, best first."""
        if self.knapsack is None:
            return []
        worth = self.knapsack.worth[:, 0]
        order = np.argsort(-worth, kind="stable")[: self.per_pass]
        least = int(scale * (1 + 1e-7)) + 1
        parts = [int(part) for part in order if worth[part] > least]
        sizes = self.open_sizes.tolist()
        contents = [self.knapsack.content(part, 0) for part in parts]
        return [tuple((sizes[at], number) for at, number in one) for one in contents]

    def most_worth(self, values: Whole, best: int, fee: int = 0) -> int:
        """Return the most any bar is worth: listed, or ``best`` of open sizes; less weights."""
        worths = self.worths(values)
        worths[: len(self.weights)] -= fee * self.weights
        listed = self.are_listed()
        listed[: len(self.barred)] &= ~self.barred
        return max(best, int(worths[listed].max(initial=0)))

    def _is_impossible(self, scaled: Scaled, best: int) -> bool:
        """Say whether these whole values prove that no plan has ``bars`` bars."""
        fee = int(self.fee * scaled.scale)
        need = self.worth_of_needs(scaled.values) - fee * self.cap
        return self.bars * self.most_worth(scaled.values, best, fee) < need

    def worth_of_needs(self, values: Whole) -> int:
        """Return what all pieces that are left are worth."""
        return sum(v * n for v, n in zip(values.tolist(), self.needs.tolist(), strict=True))

    def reach(self, is_stopped: Callable[[], bool]) -> bool | None:
        """Say whether pieces fit into ``bars`` bars, fractions allowed; None: unknown."""
        is_new = False
        while not is_stopped() and self.solve(is_new):
            if self.value <= self.bars + ABOUT and self.missing < LESS:
                return True
            scaled, best = self.price(self.duals)
            if self._is_impossible(scaled, best):
                return False
            is_new = self._add_new(scaled.scale)
            if not is_new and self.missing < LESS:
                return True
            if not is_new and self.extra > DEAREST:
                return None
            if not is_new:
                self.raise_prices(4 * self.extra)
        return None

    def converge(self, needs: Floats, is_stopped: Callable[[], bool]) -> bool:
        """Solve for other needs until no content helps; ``refresh`` brings the needs back."""
        self.set_needs(needs)
        is_new = False
        while not is_stopped() and self.solve(is_new):
            scaled, _ = self.price(self.duals)
            is_new = self._add_new(scaled.scale)
            if not is_new:
                return True
        return False

    def reach_with(self, kept: Flags, is_stopped: Callable[[], bool]) -> bool | None:
        """Say what ``reach`` says without the other columns; only columns are added."""
        self.remember()
        self.barred = ~kept
        self.bar(~kept, True)
        reached = self.reach(is_stopped)
        self.bar(~kept, False)
        self.barred = np.zeros(0, dtype=np.bool_)
        self.recall()
        return reached

    def _add_new(self, scale: int) -> bool:
        contents = self.new_contents(scale)
        if not len(self.weights) and not len(self.barred):
            self._thin_out()
        return self.add(contents) > 0

    def _thin_out(self) -> None:
        """Delete open columns that cost most when there are many; the lists stay whole."""
        is_open = ~self.are_listed()
        most = MOST_COLUMNS * int((self.needs > 0).sum())
        if int(is_open.sum()) <= most:
            return
        costs = self.reduced_costs()
        costs[~is_open] = -2.0
        kept = costs < 0
        many = int((~is_open).sum()) + most * 6 // 10
        kept[np.argsort(costs, kind="stable")[:many]] = True
        self.keep(kept)
