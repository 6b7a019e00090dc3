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
from contractor.engine.rostering.document import HALVES, Crew, Half, Instance, Job, Pin
from contractor.engine.rostering.legality import (
    Obstacle,
    crew_obstacles,
    earliest_day,
    start_obstacles,
)
from contractor.engine.rostering.plan_document import Visit
from contractor.engine.rostering.rearrange import rearranged

BEST = 3
LONGEST_CHAIN = 5


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
    """Where the holder of a half-day would go, and at what extra cost of its own; ``to`` None:
    it would be left out."""

    job: str
    to: Visit | None
    extra: int


@dataclass(frozen=True)
class WhyNot:
    """Hard rules first; without any, who would have to go and what it all costs: the cheapest
    way when only the job and those holders may move."""

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
    placed = tuple(visits)
    holders = holders_of(instance, (visit for visit in placed if visit.job != job.id))
    wanted = _option(instance, holders, job, crew, day, half)
    pin = Pin(job.id, crew.id, day, half, "question")
    found = rearranged(instance, placed, {job.id, *wanted.held_by}, (pin,))
    assert found is not None  # a legal start can be kept once its holders may leave
    to = {visit.job: visit for visit in found.visits}
    now = {visit.job: _parts(instance, visit).total for visit in placed}
    displaced = [
        Displaced(name, to.get(name), _now(instance, name, to.get(name)) - now[name])
        for name in wanted.held_by
    ]
    return WhyNot((), tuple(displaced), found.extra_cost)


def _now(instance: Instance, name: str, visit: Visit | None) -> int:
    """Cost of a job with this visit, or without any."""
    if visit is None:
        return costs.unplanned_cost(instance, instance.job_of[name]).total
    return _parts(instance, visit).total


def earliest_start(instance: Instance, placed: Iterable[Visit], job: Job) -> list[Limit]:
    """Return the chain that sets a job's earliest start; the last link is the start itself.

    Where other jobs are in the way it follows them to what keeps them where they are.
    """
    visits = tuple(placed)
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
    if options and not options[0].is_free:
        chain += _in_the_way(instance, visits, options[0], {job.id})
        if free:
            chain.append(Limit("other jobs have the crews", free[0].visit.date))
    return chain


def _in_the_way(
    instance: Instance, visits: tuple[Visit, ...], wanted: Option, seen: set[str]
) -> list[Limit]:
    """Who has the half-days of ``wanted``, and what keeps that one from going earlier."""
    name = wanted.held_by[0]
    visit = next(visit for visit in visits if visit.job == name)
    links = [Limit(f"{name} has crew {visit.crew}", visit.date)]
    holder = instance.job_of[name]
    earlier = [
        option
        for option in options_of(instance, visits, holder)
        if option.visit.when < visit.when and option.visit.crew == visit.crew
    ]
    if not earlier:
        why = f"{name} cannot start earlier: material, permit, calendars or the homeowner"
        return [*links, Limit(why, visit.date)]
    first = min(earlier, key=lambda option: option.visit.when)
    if first.is_free or first.held_by[0] in seen or len(seen) >= LONGEST_CHAIN:
        return links
    return links + _in_the_way(instance, visits, first, seen | {name})


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
