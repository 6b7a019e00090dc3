"""Why a plan is as it is: answers about one job, from the instance and the visits alone.

Everything is worked out by looking at each start of each crew (the plain twin of the option
table), so an answer never depends on how the plan was found.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from contractor.engine.rostering import costs
from contractor.engine.rostering.costs import CostParts
from contractor.engine.rostering.document import HALVES, Crew, Half, Instance, Job
from contractor.engine.rostering.legality import (
    Obstacle,
    crew_obstacles,
    earliest_day,
    start_obstacles,
)
from contractor.engine.rostering.plan_document import Visit

BEST = 3


@dataclass(frozen=True)
class Option:
    """A legal visit of a job; ``held_by`` are the jobs that have its half-days now."""

    visit: Visit
    parts: CostParts
    held_by: tuple[str, ...]

    @property
    def cost(self) -> int:
        return self.parts.total

    @property
    def is_free(self) -> bool:
        return not self.held_by


@dataclass(frozen=True)
class Why:
    """The chosen visit (None: not planned, ``parts`` are of leaving it out) and the best others."""

    job: str
    chosen: Visit | None
    parts: CostParts
    alternatives: tuple[Option, ...]


@dataclass(frozen=True)
class Displaced:
    """What moving the holder of a half-day away costs; ``to`` None: it would be left out."""

    job: str
    to: Visit | None
    extra: int


@dataclass(frozen=True)
class WhyNot:
    """Hard rules first; without any, who would have to go and what it all costs."""

    obstacles: tuple[Obstacle, ...]
    displaced: tuple[Displaced, ...]
    extra: int | None


@dataclass(frozen=True)
class Limit:
    """One thing that keeps a job from starting earlier, and until when."""

    what: str
    until: date


@dataclass(frozen=True)
class Unplanned:
    """Why a job has no visit: per crew for good, per start by rule, and what is left."""

    crews: dict[str, tuple[Obstacle, ...]]
    starts_by_rule: dict[str, int]
    legal: int
    free: int
    cheapest_free: Option | None
    left_out: CostParts


def options_of(instance: Instance, visits: Iterable[Visit], job: Job) -> list[Option]:
    """Return every legal visit of ``job``, cheapest first; its own half-days count as free."""
    holders = holders_of(instance, (visit for visit in visits if visit.job != job.id))
    found = [
        _option(instance, holders, job, crew, day, half)
        for crew, day, half in _starts(instance)
        if not start_obstacles(instance, job, crew, day, half)
    ]
    return sorted(found, key=lambda one: (one.cost, one.visit.when, one.visit.crew))


def explain(instance: Instance, visits: Iterable[Visit], job: Job) -> Why:
    """Return the cost parts of a job's visit beside its three best alternatives."""
    placed = tuple(visits)
    chosen = next((visit for visit in placed if visit.job == job.id), None)
    others = [one for one in options_of(instance, placed, job) if one.visit != chosen]
    parts = costs.unplanned_cost(instance, job)
    if chosen is not None:
        parts = _parts(instance, chosen)
    return Why(job.id, chosen, parts, tuple(others[:BEST]))


def why_not(
    instance: Instance, visits: Iterable[Visit], job: Job, crew: Crew, day: date, half: Half
) -> WhyNot:
    """Say what keeps ``crew`` from starting ``job`` then: rules, else the price of it."""
    obstacles = tuple(start_obstacles(instance, job, crew, day, half))
    if obstacles:
        return WhyNot(obstacles, (), None)
    everybody = tuple(visits)
    placed = [visit for visit in everybody if visit.job != job.id]
    wanted = _option(instance, holders_of(instance, placed), job, crew, day, half)
    now = explain(instance, everybody, job).parts.total
    displaced: list[Displaced] = []
    kept = [visit for visit in placed if visit.job not in wanted.held_by] + [wanted.visit]
    for name in wanted.held_by:
        moved = _move(instance, kept, placed, instance.job_of[name])
        displaced.append(moved)
        kept += [moved.to] if moved.to else []
    extra = wanted.cost - now + sum(one.extra for one in displaced)
    return WhyNot((), tuple(displaced), extra)


def _move(instance: Instance, kept: list[Visit], before: list[Visit], job: Job) -> Displaced:
    """Return the cheapest free place for a job that has to leave its own."""
    now = _parts(instance, next(visit for visit in before if visit.job == job.id)).total
    free = [one for one in options_of(instance, kept, job) if one.is_free]
    out = costs.unplanned_cost(instance, job).total
    if free and free[0].cost <= out:
        return Displaced(job.id, free[0].visit, free[0].cost - now)
    return Displaced(job.id, None, out - now)


def earliest_start(instance: Instance, visits: Iterable[Visit], job: Job) -> list[Limit]:
    """Return the chain that sets a job's earliest start; the last link is the start itself."""
    limits = [
        Limit("today", instance.today),
        Limit("first day of the plan", instance.first_day),
        Limit("material is there", job.material_ready),
        Limit("permit or engineer's release", job.permit_release),
    ]
    chain = sorted(limits, key=lambda one: one.until)
    options = sorted(options_of(instance, visits, job), key=lambda one: one.visit.when)
    if options and options[0].visit.date > earliest_day(instance, job):
        chain.append(Limit("calendars, certificates and the homeowner", options[0].visit.date))
    free = [one for one in options if one.is_free]
    if free and free[0].visit.when > options[0].visit.when:
        chain.append(Limit("other jobs have the crews", free[0].visit.date))
    return chain


def why_unplanned(instance: Instance, visits: Iterable[Visit], job: Job) -> Unplanned:
    """Say, rule by rule, why a job has no visit."""
    counts: Counter[str] = Counter()
    for crew, day, half in _starts(instance):
        found = start_obstacles(instance, job, crew, day, half)
        counts.update([found[0].code] if found else [])
    options = options_of(instance, visits, job)
    free = [one for one in options if one.is_free]
    return Unplanned(
        crews={crew.id: tuple(crew_obstacles(instance, job, crew)) for crew in instance.crews},
        starts_by_rule=dict(sorted(counts.items())),
        legal=len(options),
        free=len(free),
        cheapest_free=free[0] if free else None,
        left_out=costs.unplanned_cost(instance, job),
    )


def slack_halfdays(instance: Instance, visits: Iterable[Visit], job: Job) -> int:
    """Return how many working half-days later the visit could start, crew kept, at no more
    cost and in nobody's way; 0 for a job without a visit."""
    placed = tuple(visits)
    chosen = next((visit for visit in placed if visit.job == job.id), None)
    if chosen is None:
        return 0
    now = _parts(instance, chosen).total
    later = [
        one.visit
        for one in options_of(instance, placed, job)
        if one.is_free and one.visit.crew == chosen.crew and one.visit.when > chosen.when
        if one.cost <= now
    ]
    calendar = instance.calendar_of(instance.crew_of[chosen.crew])
    cells = [_cell(calendar.index_of[visit.date], visit.half) for visit in later]
    start = _cell(calendar.index_of[chosen.date], chosen.half)
    return max((cell - start for cell in cells), default=0)


def holders_of(instance: Instance, visits: Iterable[Visit]) -> dict[tuple[str, int], str]:
    """Return who has which half-day: (crew, half-day of its calendar) -> job."""
    cells: dict[tuple[str, int], str] = {}
    for visit in visits:
        index = instance.calendar_of(instance.crew_of[visit.crew]).index_of.get(visit.date)
        if index is None:
            continue
        start = _cell(index, visit.half)
        cells |= {(visit.crew, cell): visit.job for cell in range(start, start + visit.halfdays)}
    return cells


def _starts(instance: Instance) -> Iterator[tuple[Crew, date, Half]]:
    for crew in instance.crews:
        for day in instance.calendar_of(crew).days:
            for half in HALVES:
                yield crew, day, half


def _option(
    instance: Instance,
    holders: dict[tuple[str, int], str],
    job: Job,
    crew: Crew,
    day: date,
    half: Half,
) -> Option:
    needed = costs.halfdays_needed(instance, crew, job)
    assert needed is not None  # a legal start has a length
    visit = Visit(job.id, crew.id, day, half, needed)
    start = _cell(instance.calendar_of(crew).index_of[day], half)
    held = [holders.get((crew.id, cell)) for cell in range(start, start + needed)]
    names = tuple(dict.fromkeys(name for name in held if name is not None))
    return Option(visit, _parts(instance, visit), names)


def _parts(instance: Instance, visit: Visit) -> CostParts:
    crew, job = instance.crew_of[visit.crew], instance.job_of[visit.job]
    start = _cell(instance.calendar_of(crew).index_of[visit.date], visit.half)
    return costs.visit_cost(instance, crew, job, start, visit.halfdays)


def _cell(index: int, half: Half) -> int:
    return 2 * index + HALVES.index(half)
