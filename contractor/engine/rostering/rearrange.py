"""A few jobs placed anew in the best way while everybody else stays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from contractor.engine.rostering.document import HALVES, Absence, Instance, Pin
from contractor.engine.rostering.events import with_absences
from contractor.engine.rostering.plan_document import Visit, plan_cost

WORK = 5.0  # deterministic seconds of CP-SAT; a handful of jobs needs a fraction of one


@dataclass(frozen=True)
class Rearrangement:
    """Visits of the jobs that were free to move; those without one are ``left_out``.

    ``extra_cost`` is what the whole plan then costs more (below 0: less); no cheaper way
    exists for these jobs when ``is_cheapest``.
    """

    visits: tuple[Visit, ...]
    left_out: tuple[str, ...]
    extra_cost: int
    is_cheapest: bool


def rearranged(
    instance: Instance, visits: Iterable[Visit], free: set[str], pins: tuple[Pin, ...] = ()
) -> Rearrangement | None:
    """Place the ``free`` jobs of the plan ``visits`` at least cost.

    ``pins`` replace the instance's own for their jobs, and these jobs must be placed; None
    when they cannot be.
    """
    placed = tuple(visits)
    asked = {pin.job for pin in pins}
    own = tuple(pin for pin in instance.pins if pin.job not in asked)
    kept = [visit for visit in placed if visit.job not in free]
    found = _solve(_only(replace(instance, pins=own + pins), kept, free), asked)
    if found is None:
        return None
    moved, proven = found
    return Rearrangement(
        visits=tuple(moved),
        left_out=tuple(sorted(free - {visit.job for visit in moved})),
        extra_cost=plan_cost(instance, kept + moved) - plan_cost(instance, placed),
        is_cheapest=proven,
    )


def _only(instance: Instance, kept: list[Visit], free: set[str]) -> Instance:
    """Only the ``free`` jobs; the crews are away where they work on ``kept`` visits."""
    busy: dict[str, tuple[Absence, ...]] = {}
    for visit in kept:
        calendar = instance.calendar_of(instance.crew_of[visit.crew])
        start = 2 * calendar.index_of[visit.date] + HALVES.index(visit.half)
        for cell in range(start, start + visit.halfdays):
            day = calendar.days[cell // 2]
            absence = Absence(day, day, HALVES[cell % 2], f"works on {visit.job}")
            busy[visit.crew] = (*busy.get(visit.crew, ()), absence)
    jobs = tuple(job for job in instance.jobs if job.id in free)
    return with_absences(replace(instance, jobs=jobs), busy)


def _solve(instance: Instance, asked: set[str]) -> tuple[list[Visit], bool] | None:
    import numpy as np

    from contractor.engine.rostering.optimize import visits_of
    from contractor.engine.rostering.options import build_options
    from contractor.engine.rostering.part import part_of
    from contractor.engine.rostering.submodel import improve_part

    table = build_options(instance)
    must = frozenset(n for n, job in enumerate(instance.jobs) if job.id in asked)
    part = part_of(table, np.arange(len(table)), set(), must)
    if not must <= set(part.jobs.tolist()):
        return None
    found = improve_part(part, work=WORK, seconds=None, seed=0)
    if found is None:
        return None
    return list(visits_of(instance, table, found.rows)), found.is_proven
