"""A published plan after events: what still stands, what has started, what must move."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from contractor.engine.rostering import costs
from contractor.engine.rostering.document import HALVES, Absence, Instance, Job, Slot
from contractor.engine.rostering.events import Event, apply_events, with_absences
from contractor.engine.rostering.legality import start_obstacles
from contractor.engine.rostering.plan_document import Visit

_CAUSES = {
    "crew_absent": "crew_absent",
    "material_late": "before_material",
    "homeowner_blackout": "in_blackout",
}


@dataclass(frozen=True)
class Situation:
    """``after`` is the whole instance after the events, published visits confirmed.

    ``open`` is the part that can still be planned: visits that started before ``now`` are
    taken out, and their crews are away meanwhile. ``promised`` has the published visit of
    every open confirmed job, ``tentative`` those that nobody was told about.
    """

    after: Instance
    open: Instance
    started: tuple[Visit, ...]
    promised: dict[str, Visit]
    tentative: dict[str, Visit]
    events: tuple[Event, ...]


def situation_of(
    instance: Instance,
    published: Iterable[Visit],
    events: tuple[Event, ...],
    now: date | None,
    tentative: frozenset[str],
) -> Situation:
    """Work out what ``events`` leave of ``published``."""
    after = apply_events(instance, events)
    visits = {visit.job: visit for visit in published if visit.job in after.job_of}
    after = _confirmed(after, visits, tentative)
    begun = {job for job, visit in visits.items() if now is not None and visit.date < now}
    started = tuple(
        _as_long_as_needed(after, visits[job.id]) for job in after.jobs if job.id in begun
    )
    open_ = replace(after, jobs=tuple(job for job in after.jobs if job.id not in begun))
    if now is not None:
        open_ = replace(open_, today=max(open_.today, now))
    waiting = {job: visit for job, visit in visits.items() if job not in begun}
    return Situation(
        after=after,
        open=with_absences(open_, _busy(after, started)),
        started=started,
        promised={job: v for job, v in waiting.items() if job not in tentative},
        tentative={job: v for job, v in waiting.items() if job in tentative},
        events=events,
    )


def _confirmed(instance: Instance, visits: dict[str, Visit], tentative: frozenset[str]) -> Instance:
    def told(job: Job) -> Job:
        visit = visits.get(job.id)
        if visit is None:
            return job
        slot = Slot(visit.crew, visit.date, visit.half)
        return replace(job, confirmed=None if job.id in tentative else slot)

    return replace(instance, jobs=tuple(told(job) for job in instance.jobs))


def _as_long_as_needed(instance: Instance, visit: Visit) -> Visit:
    """A started visit takes what the job needs now, up to the end of the horizon."""
    crew, job = instance.crew_of[visit.crew], instance.job_of[visit.job]
    calendar = instance.calendar_of(crew)
    needed = costs.halfdays_needed(instance, crew, job)
    if needed is None or visit.date not in calendar.index_of:
        return visit
    left = calendar.halfdays - 2 * calendar.index_of[visit.date] - HALVES.index(visit.half)
    return replace(visit, halfdays=min(needed, left))


def _busy(instance: Instance, started: Iterable[Visit]) -> dict[str, tuple[Absence, ...]]:
    busy: dict[str, tuple[Absence, ...]] = {}
    for visit in started:
        calendar = instance.calendar_of(instance.crew_of[visit.crew])
        if visit.date not in calendar.index_of:
            continue
        start = 2 * calendar.index_of[visit.date] + HALVES.index(visit.half)
        for cell in range(start, min(start + visit.halfdays, calendar.halfdays)):
            day, half = calendar.days[cell // 2], HALVES[cell % 2]
            why = f"{visit.job} has started"
            busy[visit.crew] = (*busy.get(visit.crew, ()), Absence(day, day, half, why))
    return busy


def direct_cause(situation: Situation, visit: Visit) -> str | None:
    """Why ``visit`` cannot stay where it was published, or None if it can by itself.

    Names the event behind it where taking that event away would make the visit legal.
    """
    instance = situation.open
    job, crew = instance.job_of[visit.job], instance.crew_of[visit.crew]
    obstacles = start_obstacles(instance, job, crew, visit.date, visit.half)
    if not obstacles:
        return None
    codes = {obstacle.code for obstacle in obstacles}
    for event in situation.events:
        if event.about in (visit.job, visit.crew) and _explains(event, codes):
            return str(event)
    return f"{obstacles[0].code}: {obstacles[0].text}"


def _explains(event: Event, codes: set[str]) -> bool:
    if event.kind == "labour_changed":
        return bool(codes)
    return _CAUSES.get(event.kind) in codes
