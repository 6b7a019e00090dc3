"""A few jobs placed anew in the best way while everybody else stays."""

from __future__ import annotations

from dataclasses import dataclass, replace

from contractor.engine.rostering.board import Board
from contractor.engine.rostering.document import HALVES, Absence, Instance, Pin
from contractor.engine.rostering.events import with_absences
from contractor.engine.rostering.plan_document import Visit, plan_cost

WORK = 5.0  # deterministic seconds of CP-SAT; a handful of jobs needs a fraction of one


@dataclass(frozen=True)
class Rearrangement:
    """Visits that change, and what the whole plan then costs more (or, below 0, less).

    ``left_out`` are jobs that were planned and find no place any more. ``is_cheapest``
    tells whether the answer is proven for these jobs.
    """

    visits: tuple[Visit, ...]
    left_out: tuple[str, ...]
    extra_cost: int
    is_cheapest: bool


def rearranged(board: Board, free: set[str], pins: tuple[Pin, ...] = ()) -> Rearrangement | None:
    """Place the ``free`` jobs at least cost; ``pins`` replace those of the instance.

    A job in ``pins`` must be placed; None when it cannot be.
    """
    asked = {pin.job for pin in pins}
    own = tuple(pin for pin in board.instance.pins if pin.job not in asked)
    small = _without_the_rest(replace(board.instance, pins=own + pins), board, free)
    found = _solve(small, asked)
    if found is None:
        return None
    visits, proven = found
    kept = [visit for visit in board.visits if visit.job not in free]
    extra = plan_cost(board.instance, kept + visits) - plan_cost(board.instance, board.visits)
    placed = {visit.job for visit in visits}
    return Rearrangement(
        visits=tuple(v for v in visits if board.visit_of.get(v.job) != v),
        left_out=tuple(sorted(job for job in free - placed if job in board.visit_of)),
        extra_cost=extra,
        is_cheapest=proven,
    )


def _without_the_rest(instance: Instance, board: Board, free: set[str]) -> Instance:
    """Only the ``free`` jobs; the crews are away where the others have them."""
    busy: dict[str, tuple[Absence, ...]] = {}
    for visit in board.visits:
        if visit.job in free:
            continue
        days = instance.calendar_of(instance.crew_of[visit.crew]).days
        for cell in board.cells(visit):
            day = days[cell // 2]
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
