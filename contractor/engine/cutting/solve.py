"""Solve a cutting instance: the plain rules first, then column generation for plan and proof.

In order: least material cost (with a true lower bound, proven where they meet); then, among
plans of that cost, few and long leftovers and few patterns (by local search, not proven).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from contractor.engine.cutting.bounds import volume_bound
from contractor.engine.cutting.heuristics import OPENINGS, best_rule, decreasing
from contractor.engine.cutting.model import CutPlan, Instance
from contractor.engine.cutting.naming import name_bars
from contractor.engine.cutting.polish import polish
from contractor.engine.cutting.problem import (
    BarType,
    Cuts,
    Problem,
    reduce_instance,
    trim_cover,
)

if TYPE_CHECKING:
    from contractor.engine.cutting.search import Search

#: Knapsack tables of more cells, or longer ones, are built in a coarser unit of length.
MAX_CELLS = 250_000_000
MAX_CAPACITY = 100_000
COARSE_CAPACITY = 40_000
#: The unit after a coarse one that left a gap is finer by this.
FINER = 4


@dataclass(frozen=True)
class Progress:
    """What is known so far: least cost found, bound on the least possible, the phase's name."""

    cost: int
    bound: int
    phase: str


class Budget:
    """When to stop: seconds, a limit on counted work (for repeatable runs), or a caller's word."""

    def __init__(
        self,
        seconds: float,
        work_limit: int | None,
        progress: Callable[[Progress], None] | None,
        cancelled: Callable[[], bool] | None,
    ) -> None:
        self.started = time.monotonic()
        self.deadline = self.started + seconds
        self.work_limit = work_limit
        self.progress = progress
        self.cancelled = cancelled
        self.spent = 0

    def is_over(self, work: int) -> bool:
        """``work``: cells and pivots of the running search, on top of what others spent."""
        if self.work_limit is not None and self.spent + work > self.work_limit:
            return True
        if self.cancelled is not None and self.cancelled():
            return True
        return time.monotonic() > self.deadline

    def silenced(self) -> Budget:
        """Return the same limits for a search whose figures are not those of the real problem."""
        quiet = copy(self)
        quiet.progress = None
        return quiet

    def report(self, cost: int, bound: int, phase: str) -> None:
        if self.progress is not None:
            self.progress(Progress(cost, bound, phase))

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.started


def solve(
    instance: Instance,
    *,
    seconds: float = 10.0,
    seed: int = 1,
    work_limit: int | None = None,
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> CutPlan:
    """Return the cheapest plan found for ``instance``, with a bound on the least possible cost.

    Stops when proven, after ``seconds``, after ``work_limit`` units of counted work or when
    ``cancelled`` says so, always with the best plan so far. One seed and a work limit that binds
    before the seconds do give one answer. Pieces that the supply cannot cover end up ``unmet``:
    then as few extra bars as possible would be needed for them. That these are the fewest is
    part of what ``is_proven`` says.
    """
    budget = Budget(seconds, work_limit, progress, cancelled)
    reduction = reduce_instance(instance)
    answer = least_cost(reduction.problem, budget, seed)
    cuts = polish(reduction.problem, answer.cuts, instance, seed)
    bars, unmet = name_bars(reduction, cuts)
    return CutPlan(
        bars=bars,
        cost=answer.cost,
        bound=answer.bound,
        is_proven=answer.bound == answer.cost and answer.is_short_proven,
        unmet=unmet,
        seconds=budget.seconds,
        method=answer.method,
    )


@dataclass(frozen=True)
class Answer:
    """Exact cuts (no piece too many), their cost, and a true lower bound not above it.

    ``is_short_proven``: what the supply does not cover cannot be less.
    """

    cuts: Cuts
    cost: int
    bound: int
    method: str
    is_short_proven: bool = True


def least_cost(problem: Problem, budget: Budget, seed: int) -> Answer:
    """Return the cheapest cuts found and the bound; what supplies cannot cover is left out."""
    if not problem.widths:
        return Answer({}, 0, 0, "nothing to cut")
    cuts, missing = best_rule(problem)
    if any(missing):
        return _least_short(problem, budget, seed)
    cost, bound = problem.cost(cuts), volume_bound(problem)
    budget.report(cost, bound, "plain rules")
    if bound >= cost:
        return Answer(cuts, cost, cost, "plain rules")
    if coarse_unit(problem) > 1:
        return _solve_coarse(problem, cuts, bound, budget, seed)
    search = start_search(problem, cuts, bound, budget, seed)
    search.run()
    exact = trim_cover(problem, search.cuts)
    cost = problem.cost(exact)
    return Answer(exact, cost, min(search.bound, cost), "column generation")


def start_search(problem: Problem, cuts: Cuts, bound: int, budget: Budget, seed: int) -> Search:
    """Return a search that starts from the plans of all plain rules."""
    from contractor.engine.cutting.search import Search

    plans = [decreasing(problem, fit, how) for fit in ("first", "best") for how in OPENINGS]
    patterns = [pattern for plan, _ in plans for pattern in plan]
    return Search(problem, cuts, [*cuts, *patterns], budget.is_over, budget.report, seed, bound)


def coarse_unit(problem: Problem, capacity: int = COARSE_CAPACITY) -> int:
    """Return the unit of length for knapsack tables: 1, or more where bars are very long.

    Then the longest bar has about ``capacity`` units, or as many as tables can hold.
    """
    cells = problem.capacity * 3 * len(problem.widths)
    if problem.capacity <= MAX_CAPACITY and cells <= MAX_CELLS:
        return 1
    most = max(1, min(capacity, MAX_CELLS // (3 * len(problem.widths))))
    return -(-problem.capacity // most)


def _solve_coarse(problem: Problem, cuts: Cuts, bound: int, budget: Budget, seed: int) -> Answer:
    """Solve in coarse units, each finer than the one before, until proven or out of time."""
    budget = copy(budget)
    answer = Answer(cuts, problem.cost(cuts), bound, "column generation, coarse unit")
    capacity, last = COARSE_CAPACITY, 0
    while answer.bound < answer.cost and not budget.is_over(0):
        unit = coarse_unit(problem, capacity)
        if unit == last:
            break
        answer = _solve_in_unit(problem, unit, answer, budget, seed)
        capacity, last = FINER * capacity, unit
    return answer


def _solve_in_unit(problem: Problem, unit: int, known: Answer, budget: Budget, seed: int) -> Answer:
    """Solve twice: pieces rounded down for the bound, up for the plan; ``budget.spent`` goes on.

    The patterns of the plan known so far may be used whatever the unit makes of them: they do
    fit.
    """
    quiet, cuts, cost, bound = budget.silenced(), known.cuts, known.cost, known.bound
    outer = None
    if unit <= problem.widths[-1]:
        outer = start_search(problem.coarse(unit, True), cuts, bound, quiet, seed)
        outer.open()
        bound = max(bound, outer.bound)
        quiet.spent += outer.generator.work
        budget.report(cost, min(bound, cost), "coarse unit")
    inner_problem = problem.coarse(unit, False)
    if bound < cost and not any(best_rule(inner_problem)[1]):
        inner = start_search(inner_problem, cuts, bound, quiet, seed)
        inner.run()
        quiet.spent += inner.generator.work
        found = trim_cover(problem, inner.cuts)
        if problem.cost(found) < cost:
            cuts, cost = found, problem.cost(found)
            budget.report(cost, min(bound, cost), "coarse unit")
    if outer is not None and bound < cost:
        quiet.spent -= outer.generator.work
        outer.run()
        quiet.spent += outer.generator.work
        bound = max(bound, outer.bound)
    budget.spent = quiet.spent
    return Answer(cuts, cost, min(bound, cost), known.method)


def _least_short(problem: Problem, budget: Budget, seed: int) -> Answer:
    """Solve with bars that are not there, dearer each than all real ones together.

    As few of them as possible hold what the supply cannot cover; they are taken out afterwards.
    """
    step = problem.cost_step
    price = (sum(bar.cost * bar.supply for bar in problem.bars) // step + 1) * step
    capacity = max(problem.capacity, problem.widths[0])
    bars = (*problem.bars, BarType(capacity, price, problem.pieces))
    wider = replace(problem, bars=bars)
    answer = least_cost(wider, budget.silenced(), seed)
    real = {cut: count for cut, count in answer.cuts.items() if cut.bar < len(problem.bars)}
    absent = sum(answer.cuts.values()) - sum(real.values())
    cost = problem.cost(real)
    # Fewer absent bars would cost less than these alone, whatever real bars come with them.
    is_short_proven = answer.bound >= absent * price
    bound = max(0, min(cost, answer.bound - absent * price))
    return Answer(real, cost, bound, answer.method, is_short_proven)
