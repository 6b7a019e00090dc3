"""One whole-number program over listed patterns, searched to the end by CP-SAT.

CP-SAT reasons in whole numbers, so what it proves is proven. As a question of least cost it is
far quicker than as a question of yes or no: only then may it leave out dominated patterns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from math import floor
from typing import TYPE_CHECKING

from contractor.engine.cutting.problem import Cuts, Pattern, Problem

if TYPE_CHECKING:  # CP-SAT brings pandas; only what other searches leave open needs it
    from ortools.sat.python import cp_model

#: Seconds between two questions whether to stop.
TICK = 0.05
#: Counted work that stands for one unit of CP-SAT's deterministic time.
WORK_PER_UNIT = 100_000_000
#: CP-SAT tells its bound as a float: whole numbers up to here are exact.
MOST_COST = 2**53


@dataclass(frozen=True)
class LeastPlan:
    """``cuts``: the cheapest plan found within the limit, if any; no plan costs less than
    ``bound`` (at most the limit and one step). ``is_final``: searched to the end."""

    cuts: Cuts | None
    bound: int
    work: int
    is_final: bool


def least_plan(
    problem: Problem,
    patterns: Sequence[tuple[Pattern, int]],
    limit: int,
    allowance: int,
    is_stopped: Callable[[], bool],
    seed: int,
) -> LeastPlan:
    """Find the cheapest plan of the patterns, each used no more often than stated.

    Within ``limit`` (at most ``MOST_COST``), for ``allowance`` units of counted work at most. The
    caller knows that plans of other patterns cost more than the limit.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    uses = [model.new_int_var(0, most, "") for _, most in patterns]
    cost = cp_model.LinearExpr.weighted_sum(uses, [problem.bars[q.bar].cost for q, _ in patterns])
    _constrain(model, problem, [pattern for pattern, _ in patterns], uses)
    model.add(cost <= limit)
    model.minimize(cost)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 2
    solver.parameters.random_seed = seed
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.max_deterministic_time = allowance / WORK_PER_UNIT
    status = _run(solver, model, is_stopped)
    work = int(solver.deterministic_time * WORK_PER_UNIT)
    above = problem.round_up(limit + 1, 1)
    if status == cp_model.INFEASIBLE:
        return LeastPlan(None, above, work, True)
    bound = min(above, problem.round_up(floor(max(0.0, solver.best_objective_bound)), 1))
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return LeastPlan(None, bound, work, False)
    counts = [solver.value(use) for use in uses]
    cuts = {one: count for (one, _), count in zip(patterns, counts, strict=True) if count}
    return LeastPlan(cuts, bound, work, status == cp_model.OPTIMAL)


def _constrain(
    model: cp_model.CpModel,
    problem: Problem,
    patterns: Sequence[Pattern],
    uses: Sequence[cp_model.IntVar],
) -> None:
    """Every piece exactly as often as wanted, every bar type within its supply."""
    from ortools.sat.python import cp_model

    holding: list[list[cp_model.IntVar]] = [[] for _ in problem.widths]
    held: list[list[int]] = [[] for _ in problem.widths]
    used: list[list[cp_model.IntVar]] = [[] for _ in problem.bars]
    for pattern, use in zip(patterns, uses, strict=True):
        used[pattern.bar].append(use)
        for size, number in pattern.content:
            holding[size].append(use)
            held[size].append(number)
    for size, need in enumerate(problem.demands):
        model.add(cp_model.LinearExpr.weighted_sum(holding[size], held[size]) == need)
    for bar, kind in enumerate(problem.bars):
        if kind.supply < problem.pieces:
            model.add(cp_model.LinearExpr.sum(used[bar]) <= kind.supply)


def _run(
    solver: cp_model.CpSolver, model: cp_model.CpModel, is_stopped: Callable[[], bool]
) -> cp_model.CpSolverStatus:
    """Solve in a thread of its own, so that this one can ask whether to stop."""
    with ThreadPoolExecutor(1) as pool:
        future = pool.submit(solver.solve, model)
        try:
            while not wait([future], TICK).done:
                if is_stopped():
                    solver.stop_search()
        finally:
            solver.stop_search()
        return future.result()
