"""What a re-plan changed, job by job, and why."""

from __future__ import annotations

from contractor.engine.rostering import costs
from contractor.engine.rostering.document import HALVES, Instance
from contractor.engine.rostering.plan_document import Change, Visit, What
from contractor.engine.rostering.situation import Situation, direct_cause

_Cells = dict[tuple[str, int], str]


def what_changed(before: Visit, after: Visit | None) -> What | None:
    """How a visit changed; None where crew and start are the same."""
    if after is None:
        return "lost"
    crew = before.crew != after.crew
    start = (before.date, before.half) != (after.date, after.half)
    if crew and start:
        return "both"
    if crew or start:
        return "crew" if crew else "moved"
    return None


def changes_of(
    situation: Situation, before: dict[str, Visit], after: dict[str, Visit]
) -> dict[str, Change]:
    """The changes to the visits ``before``, with their causes, in the order of the jobs."""
    instance = situation.open
    holders = _holders(instance, [*after.values(), *situation.started])
    found: dict[str, Change] = {}
    for job in instance.jobs:
        if job.id not in before:
            continue
        what = what_changed(before[job.id], after.get(job.id))
        if what is not None:
            found[job.id] = Change(what, _cause(situation, before[job.id], holders))
    return found


def _cause(situation: Situation, visit: Visit, holders: _Cells) -> str:
    direct = direct_cause(situation, visit)
    if direct is not None:
        return direct
    instance = situation.open
    crew, job = instance.crew_of[visit.crew], instance.job_of[visit.job]
    needed = costs.halfdays_needed(instance, crew, job) or visit.halfdays
    start = 2 * instance.calendar_of(crew).index_of[visit.date] + HALVES.index(visit.half)
    for cell in range(start, start + needed):
        holder = holders.get((visit.crew, cell))
        if holder not in (None, visit.job):
            return f"displaced by {holder}"
    return "cheaper together with the other changes"


def _holders(instance: Instance, visits: list[Visit]) -> _Cells:
    """Who works where: job by crew and half-day."""
    cells: _Cells = {}
    for visit in visits:
        calendar = instance.calendar_of(instance.crew_of[visit.crew])
        start = 2 * calendar.index_of[visit.date] + HALVES.index(visit.half)
        for cell in range(start, start + visit.halfdays):
            cells[visit.crew, cell] = visit.job
    return cells
