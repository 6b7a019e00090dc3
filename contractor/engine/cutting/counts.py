"""What pricing has taught about the number of bars per type, kept as cuts in whole numbers.

Whole piece values v and their exact knapsack say: any plan's bars hold pieces worth at least
sum(demand x v), and a bar of type b at most z[b] of it. So every pricing pass leaves a valid
inequality sum(z[b] x count[b]) >= need on the counts alone, in every region. A linear program of
one column per bar type over all these bounds a region without any pattern, in a millisecond.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from contractor.engine.cutting.bounds import Certificate, settle
from contractor.engine.cutting.knapsack import Whole
from contractor.engine.cutting.master import Floats, Prices, Region, quiet_highs
from contractor.engine.cutting.problem import Problem

#: After so many cuts no more are kept.
MOST_CUTS = 20_000
#: Duals of the program become whole numbers with so many bits after the point.
FINE_BITS = 40


@dataclass(frozen=True)
class CountBound:
    """``bound``: no plan costs less; ``counts``: bars per type that would cost about that.

    ``prices`` are the sum of those behind the cuts, each times its dual: they prove as much.
    """

    bound: int
    counts: Floats
    proof: Certificate
    prices: Prices


class CountCuts:
    """A growing set of cuts; cut k stands times 2 ** ``shifts[k]``, ``sides[k]`` over its need.

    The program holds only the cuts that some solution so far has violated.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        bars = len(problem.bars)
        self.needs: list[int] = []
        self.shifts: list[int] = []
        self.worths: list[Whole] = []
        self.sides = np.empty((0, bars))
        self.values: list[Floats] = []
        self.cut_rows: dict[int, int] = {}
        self.tail_rows: dict[int, int] = {}
        self.stand_in = bars
        self._load()

    def _load(self) -> None:
        """Set up a column per bar type and one that meets every cut at a price."""
        self.highs = quiet_highs()
        costs = [float(bar.cost) for bar in self.problem.bars]
        costs.append(8.0 * sum(bar.cost * bar.supply for bar in self.problem.bars))
        count = len(costs)
        none, empty = np.zeros(count, dtype=np.int32), np.empty(0, dtype=np.int32)
        high = np.full(count, highspy.kHighsInf)
        self.highs.addCols(
            count, np.array(costs), np.zeros(count), high, 0, none, empty, np.empty(0)
        )

    def add(self, values: Whole, worth: Whole, scale: int) -> None:
        """Add what ``values`` (times ``scale``, a power of two) and their knapsack prove."""
        need = sum(n * v for n, v in zip(self.problem.demands, values.tolist(), strict=True))
        if need <= 0 or len(self.needs) >= MOST_CUTS:
            return
        count = len(self.needs)
        if count == len(self.sides):
            self.sides = np.resize(self.sides, (2 * count + 64, len(self.problem.bars)))
        self.needs.append(need)
        self.shifts.append(scale.bit_length() - 1)
        self.worths.append(worth)
        self.sides[count] = worth / need
        self.values.append(values / need)

    def bound(self, region: Region) -> CountBound | None:
        """Return what the cuts say of ``region``; None when they say nothing."""
        if not self.needs or self.stand_in == 1:
            return None
        self._set_region(region)
        for _ in range(50):
            self.highs.run()
            if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                return None
            solution = self.highs.getSolution()
            counts: Floats = np.array(solution.col_value)
            if not self._separate(counts):
                break
        proof = self._certify(region, solution.row_dual)
        bound = self.problem.round_up(proof.raw, proof.scale)
        prices = self._prices(region, solution.row_dual)
        return CountBound(bound, counts[: self.stand_in], proof, prices)

    def _prices(self, region: Region, duals: Sequence[float]) -> Prices:
        sizes = np.zeros(len(self.problem.widths))
        fees = -np.array([float(bar.cost) for bar in self.problem.bars])
        for at, row in self.cut_rows.items():
            if duals[row] > 0:
                sizes += duals[row] * self.values[at]
                fees += duals[row] * self.sides[at]
        tails = {tail: float(duals[self.tail_rows[tail]]) for tail in region.tails}
        return Prices(sizes, fees, tails)

    def _set_region(self, region: Region) -> None:
        bars = len(self.problem.bars)
        box = np.array(region.box, dtype=np.float64)
        index = np.arange(bars, dtype=np.int32)
        self.highs.changeColsBounds(bars, index, box[:, 0].copy(), box[:, 1].copy())
        for tail in region.tails:
            if tail not in self.tail_rows:
                inside = np.arange(tail, bars, dtype=np.int32)
                infinity = highspy.kHighsInf
                self.highs.addRow(-infinity, infinity, len(inside), inside, np.ones(len(inside)))
                self.tail_rows[tail] = self.highs.getNumRow() - 1
        for tail, row in self.tail_rows.items():
            low, high = region.tails.get(tail, (-highspy.kHighsInf, highspy.kHighsInf))
            self.highs.changeRowBounds(row, float(low), float(high))

    def _separate(self, counts: Floats) -> bool:
        """Put the most violated cuts into the program; say whether there were any."""
        total = len(self.needs)
        lack = 1.0 - counts[self.stand_in] - self.sides[:total] @ counts[: self.stand_in]
        worst = np.argsort(-lack, kind="stable")[:3]
        fresh = [int(at) for at in worst if lack[at] > 1e-9 and int(at) not in self.cut_rows]
        columns = np.arange(self.stand_in + 1, dtype=np.int32)
        for at in fresh:
            row = np.append(self.sides[at], 1.0)
            self.highs.addRow(1.0, highspy.kHighsInf, len(columns), columns, row)
            self.cut_rows[at] = self.highs.getNumRow() - 1
        return bool(fresh)

    def _certify(self, region: Region, duals: Sequence[float]) -> Certificate:
        """Return the bound that the sum of the cuts, each times its dual, proves."""
        used = [
            (at, int(duals[row] / self.needs[at] * 2.0 ** (FINE_BITS + self.shifts[at])))
            for at, row in self.cut_rows.items()
            if duals[row] > 0
        ]
        top = max((self.shifts[at] for at, _ in used), default=0)
        scale = 1 << (top + FINE_BITS)
        raw = 0
        prices = [bar.cost * scale for bar in self.problem.bars]
        for at, times in used:
            factor = times << (top - self.shifts[at])
            raw += factor * self.needs[at]
            for bar, worth in enumerate(self.worths[at].tolist()):
                prices[bar] -= factor * worth
        fees = {tail: int(duals[self.tail_rows[tail]] * scale) for tail in region.tails}
        tails = {tail: (fees[tail], ends) for tail, ends in region.tails.items()}
        return settle(raw, prices, region.box, tails, scale)
