"""Crew plans by set packing: rules, bound, dive, neighbourhood search, exact finish."""

from __future__ import annotations

import time
from collections.abc import Callable

from contractor.engine.rostering import rules
from contractor.engine.rostering.dive import dive
from contractor.engine.rostering.document import HALVES, Instance
from contractor.engine.rostering.improve import Improver
from contractor.engine.rostering.options import build_options
from contractor.engine.rostering.plan_document import InstallPlan, Visit
from contractor.engine.rostering.relaxation import solve_relaxation
from contractor.engine.rostering.search import Limits, Progress, Search
from contractor.engine.rostering.table import Ints, OptionTable

BOUND_SHARE = 0.6  # of the time may go to the bound before the search starts
DIVE_SHARE = 0.75  # and until here to the dive


def plan(
    instance: Instance,
    *,
    seconds: float | None = 30.0,
    rounds: int | None = None,
    seed: int = 0,
    clock: Callable[[], float] = time.monotonic,
    progress: Callable[[Progress], None] = lambda progress: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> InstallPlan:
    """Return the cheapest crew plan found in ``seconds``, with a proven bound.

    With ``rounds`` (work instead of time) the same instance and seed give the same plan,
    whatever the machine; ``seconds`` is then ignored and the plan says 0 seconds. The plan
    is never dearer than the best dispatch rule; a cancelled run returns what it has.
    """
    limits = Limits(clock, None if rounds is not None else seconds, rounds, cancelled)
    began = clock()
    table = build_options(instance)
    by_rule = rules.run_rules(instance, table)
    best = rules.best_rule(by_rule)
    search = Search(table, list(best.rows), limits, progress)
    search.begun = began
    search.say("rules")
    optimize(search, rules.rows_used(by_rule), seed)
    return InstallPlan(
        visits=visits_of(instance, table, search.rows),
        cost=search.cost,
        bound=search.bound,
        proven=search.is_proven,
        seconds=0.0 if limits.is_deterministic else search.elapsed,
        seed=seed,
        rule=best.name,
        rule_cost=best.cost,
    )


def optimize(search: Search, start_rows: Ints, seed: int) -> None:
    """Improve ``search`` until the gap closes or its limits are reached.

    ``start_rows`` are options worth having in the first linear program.
    """
    relaxed = solve_relaxation(
        search.table,
        start_rows,
        lambda: search.is_over(BOUND_SHARE),
        lambda bound: search.raise_bound(bound, "bound"),
    )
    search.raise_bound(relaxed.bound, "bound")
    if relaxed.answer is not None and not search.should_stop():
        rows = dive(
            search.table, relaxed.master, relaxed.answer, lambda: search.is_over(DIVE_SHARE)
        )
        search.offer(rows, "dive")
    if not search.should_stop():
        Improver(search, relaxed, seed).run()


def visits_of(instance: Instance, table: OptionTable, rows: list[int]) -> tuple[Visit, ...]:
    """The visits that ``rows`` stand for, in the order of the instance's jobs."""
    found: dict[int, Visit] = {}
    for row in rows:
        jobs = table.jobs_of(row)
        length = int(table.length[row]) // len(jobs)
        for place, job in enumerate(jobs):
            start = int(table.start[row]) + place
            found[job] = visit_at(instance, job, int(table.crew[row]), start, length)
    return tuple(found[job] for job in sorted(found))


def visit_at(instance: Instance, job: int, crew: int, start: int, length: int) -> Visit:
    """The visit of the job and crew with these numbers from half-day ``start`` on."""
    team = instance.crews[crew]
    day = instance.calendar_of(team).days[start // 2]
    return Visit(instance.jobs[job].id, team.id, day, HALVES[start % 2], length)
