"""Column generation in one node: a box on the number of bars, in all and per type.

Every pricing pass is an exact whole-number knapsack, so every pass also gives a true lower
bound, however rough the floats of the linear program were. Branching on bar counts only moves
the price of a whole bar: pricing stays the same knapsack.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from random import Random

import numpy as np

from contractor.engine.cutting.bounds import Certificate, dual_bound
from contractor.engine.cutting.counts import CountBound, CountCuts
from contractor.engine.cutting.knapsack import Buffers, Knapsack, Whole
from contractor.engine.cutting.master import Floats, Master, Prices, Region
from contractor.engine.cutting.problem import Pattern, Problem
from contractor.engine.cutting.scaling import SMALL, Scaled, scale_duals

#: Pricing goes this part of the way from the best prices so far to those of the master.
SHARE = 0.5
#: A missing piece costs this many times its best price so far, until nothing else helps.
LIMIT = 1.3


@dataclass(frozen=True)
class NodeBound:
    """What column generation found out about a region.

    ``bound`` is a plan cost that no plan in the region beats (cost rounded up to what plans can
    cost); None: the region holds no plan. ``is_converged``: the master has its best patterns.
    ``together`` is what all cuts on counts prove, the ``certificate`` the best single pass.
    """

    bound: int | None
    is_converged: bool
    certificate: Certificate | None = None
    together: CountBound | None = None


class Generator:
    """Master, knapsack and the work done so far."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        dearest = max(bar.cost for bar in problem.bars)
        self.master = Master(problem, stand_in_price=4.0 * max(1, dearest))
        self.residual_buffers = Buffers()
        self.capacities = [bar.capacity for bar in problem.bars]
        self.costs = np.array([bar.cost for bar in problem.bars], dtype=np.int64)
        self.knapsack = Knapsack(problem.widths, problem.demands, self.capacities)
        self.counts = CountCuts(problem)
        self.work = 0
        # The first cut on counts: the pieces' widths fit into what bars can be filled with.
        self.price(self.knapsack, Scaled(np.array(problem.widths), 1, problem.capacity < SMALL))
        self.is_exchange_open = True
        self.most_columns = 6 * len(problem.widths) + 500
        self.columns_per_pass = min(150, max(40, len(problem.widths) // 2))

    def fork(self) -> Generator:
        """Return a generator at the same solution whose master can be changed without harm.

        Its ``work`` goes on from here; the caller takes it over in the end.
        """
        other = copy(self)
        other.master = self.master.fork(2 * len(self.problem.widths) + 200)
        other.is_exchange_open = False
        other.master.allow_exchange(False)
        other.master.limit_prices(None)
        return other

    def make_knapsack(self, limits: Sequence[int]) -> Knapsack:
        """Return tables for a residual; they replace those of the residual before."""
        return Knapsack(self.problem.widths, limits, self.capacities, self.residual_buffers)

    def price(self, knapsack: Knapsack, scaled: Scaled) -> Whole:
        """Run the knapsack; return the scaled reduced cost of the best content per bar type."""
        knapsack.run(scaled.values, scaled.is_small)
        self.work += knapsack.cells
        worth = knapsack.best_worth()
        if knapsack is self.knapsack:
            self.counts.add(scaled.values, worth, scaled.scale)
        return scaled.scale * self.costs - worth

    def new_patterns(self, knapsack: Knapsack, scaled: Scaled, fees: Floats) -> list[Pattern]:
        """Return patterns that pay at these prices, the best per first piece, best first."""
        reduced = scaled.scale * (self.costs + fees) - knapsack.worth
        reduced[knapsack.worth < 0] = np.inf
        bar_of = reduced.argmin(axis=1)
        least = reduced[np.arange(len(bar_of)), bar_of]
        tolerance = -1e-7 * scaled.scale * max(1.0, float(self.costs.max()) * 1e-3)
        order = np.argsort(least, kind="stable")[: self.columns_per_pass]
        return [
            Pattern(int(bar_of[part]), knapsack.content(int(part), int(bar_of[part])))
            for part in order
            if least[part] < tolerance
        ]

    def converge(
        self, region: Region, upper: int, is_stopped: Callable[[], bool], is_exact: bool = True
    ) -> NodeBound:
        """Generate columns for the whole demand in ``region`` until no pattern helps.

        Unless ``is_exact`` the solution may still lean on exchange columns: its bar counts and
        its bound will do, its patterns not quite. Stops early once the bound reaches ``upper``,
        or when ``is_stopped`` says so.
        """
        self.master.set_demands(self.problem.demands)
        self.master.set_region(region)
        if region.is_empty():
            return NodeBound(None, True)
        found, is_new = NodeBound(0, False, together=self.counts.bound(region)), False
        self.open_exchange()
        self.limit_prices(found.together)
        while True:
            if is_stopped() or not self.solve_master(is_new):
                return replace(found, is_converged=False)
            for share in (SHARE, 1.0):
                found, patterns = self._pass(region, found, share)
                if found.bound is None or found.bound >= upper:
                    return replace(found, is_converged=False)
                is_settled = self.is_settled(found.bound, is_exact)
                is_new = not is_settled and self.master.add(patterns) > 0
                if is_new or is_settled:
                    break
            is_new = is_new or (not is_settled and self.master.raise_limits())
            if not is_new and (is_settled or not self.close_exchange()):
                return replace(found, is_converged=True)

    def _pass(
        self, region: Region, known: NodeBound, share: float
    ) -> tuple[NodeBound, list[Pattern]]:
        """Price once; return what is known now and the patterns that pay.

        The prices of the master swing wildly at first. So pricing takes place only ``share`` of
        the way from the best prices proven so far (a sum of those behind the cuts on counts)
        to them (Wentges 1997, "Weighted Dantzig-Wolfe decomposition").
        """
        prices = self.master.prices
        if known.together is not None:
            prices = known.together.prices.toward(prices, share)
        scaled = scale_duals(self.problem, prices.sizes)
        reduced = self.price(self.knapsack, scaled)
        proof = self.certify(self.problem.demands, region, prices, scaled, reduced)
        old = known.certificate
        if old is not None and proof.raw * old.scale <= old.raw * proof.scale:
            proof = old
        together = self.counts.bound(region)
        bounds = [known.bound or 0, self.problem.round_up(proof.raw, proof.scale)]
        if together is not None:
            bounds.append(together.bound)
        patterns = self.new_patterns(self.knapsack, scaled, prices.fees)
        return NodeBound(max(bounds), False, proof, together), patterns

    def inner_duals(
        self, region: Region, is_stopped: Callable[[], bool], random: Random, spread: float
    ) -> tuple[Scaled, Whole, Certificate] | None:
        """Return the mean of several optimal duals, exact: few patterns are free at all of them.

        Each comes from demands shifted by chance, by up to half of ``spread``. None: stopped.
        """
        rounds = 8
        total, fees = np.zeros(len(self.problem.widths)), dict.fromkeys(region.tails, 0.0)
        for turn in range(rounds):
            shift = spread if turn else 0.0
            raised = [
                max(0.0, need + shift * (random.random() - 0.5)) for need in self.problem.demands
            ]
            if not self._converge_fully(region, raised, is_stopped):
                return None
            total += self.master.prices.sizes
            for tail in fees:
                fees[tail] += self.master.prices.tails[tail] / rounds
        prices = Prices(total / rounds, self.master.prices.fees, fees)
        scaled = scale_duals(self.problem, prices.sizes)
        reduced = self.price(self.knapsack, scaled)
        proof = self.certify(self.problem.demands, region, prices, scaled, reduced)
        return scaled, reduced, proof

    def _converge_fully(
        self, region: Region, demands: Sequence[float], is_stopped: Callable[[], bool]
    ) -> bool:
        self.master.set_demands(demands)
        self.master.set_region(region)
        self.master.limit_prices(None)
        is_new = False
        while not is_stopped() and self.solve_master(is_new):
            scaled = scale_duals(self.problem, self.master.prices.sizes)
            self.price(self.knapsack, scaled)
            found = self.new_patterns(self.knapsack, scaled, self.master.prices.fees)
            is_new = self.master.add(found) > 0
            if not is_new and not self.close_exchange():
                return True
        return False

    def limit_prices(self, known: CountBound | None) -> None:
        """Keep prices near those that proved most so far: missing pieces cost little more."""
        if known is None:
            self.master.limit_prices(None)
        else:
            few = 0.05 * float(self.costs.max())
            self.master.limit_prices(LIMIT * known.prices.sizes + few)

    def is_settled(self, bound: int, is_exact: bool) -> bool:
        """Say whether more patterns could not raise the bound: it meets the rounded solution."""
        master = self.master
        if master.stand_ins > 1e-9 or (is_exact and master.exchanged > 1e-9):
            return False
        fine = 1_000_000
        return bound >= self.problem.round_up(int((master.value * (1 - 1e-9) - 1e-6) * fine), fine)

    def certify(
        self,
        demands: Sequence[int],
        region: Region,
        prices: Prices,
        scaled: Scaled,
        reduced: Whole,
    ) -> Certificate:
        """Return the true bound that these whole duals prove in ``region``."""
        scale = scaled.scale
        inside = {
            tail: (int(prices.tails.get(tail, 0.0) * scale), ends)
            for tail, ends in region.tails.items()
        }
        values, left = scaled.values.tolist(), reduced.tolist()
        return dual_bound(demands, values, left, region.box, inside, scale)

    def solve_master(self, is_after_columns: bool) -> bool:
        before = self.master.lp_iterations
        is_solved = self.master.solve(is_after_columns)
        rows = len(self.problem.widths) + len(self.problem.bars)
        self.work += (self.master.lp_iterations - before) * rows * 20
        if is_solved:
            self.master.purge(self.most_columns)
        return is_solved

    def open_exchange(self) -> None:
        if not self.is_exchange_open:
            self.is_exchange_open = True
            self.master.allow_exchange(True)

    def close_exchange(self) -> bool:
        """Shut the exchange columns if the solution leans on them; say whether it did."""
        if not self.is_exchange_open or self.master.exchanged < 1e-9:
            return False
        self.is_exchange_open = False
        self.master.allow_exchange(False)
        return True
