"""What would help: single changes that give a job a free visit; what a crew-day is worth."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from contractor.engine.rostering.document import Instance, Job
from contractor.engine.rostering.explaining import Option, options_of
from contractor.engine.rostering.plan_document import Visit

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
DAY_STEPS = (1, 2, 3, 5, 10, 20)
DRIVE_STEPS_MIN = (5, 10, 20, 30, 60)


@dataclass(frozen=True)
class Relief:
    """One change that was tried and helps; ``size`` orders changes of one kind."""

    what: str
    size: float
    option: Option


def reliefs(instance: Instance, visits: Iterable[Visit], job: Job) -> list[Relief]:
    """Return, for each kind of change, the smallest one that gives ``job`` a free visit.

    Each was tried by itself on the instance; what is not listed does not help alone.
    """
    placed = tuple(visit for visit in visits if visit.job != job.id)
    found: list[Relief] = []
    for kind in _kinds(instance, job):
        for what, size, changed in kind:
            fixed = changed.job_of[job.id]
            free = [one for one in options_of(changed, placed, fixed) if one.is_free]
            if free:
                found.append(Relief(what, size, free[0]))
                break
    return found


Change = tuple[str, float, Instance]


def _kinds(instance: Instance, job: Job) -> Iterator[Iterator[Change]]:
    yield _earlier(instance, job, "permit_release", "permit or release")
    yield _earlier(instance, job, "material_ready", "material")
    yield _weekdays(instance, job)
    yield _blackouts(instance, job)
    yield _certificates(instance, job)
    yield _drives(instance)
    yield _payloads(instance, job)
    yield _sizes(instance, job)
    yield _longer(instance)
    yield _horizons(instance)


def _with_job(instance: Instance, job: Job) -> Instance:
    jobs = tuple(job if one.id == job.id else one for one in instance.jobs)
    return replace(instance, jobs=jobs)


def _earlier(instance: Instance, job: Job, name: str, words: str) -> Iterator[Change]:
    limit: date = getattr(job, name)
    for days in DAY_STEPS:
        if limit - timedelta(days=days) >= instance.today - timedelta(days=DAY_STEPS[-1]):
            change: dict[str, Any] = {name: limit - timedelta(days=days)}
            moved = replace(job, **change)
            yield f"{words} {days} days earlier", days, _with_job(instance, moved)


def _weekdays(instance: Instance, job: Job) -> Iterator[Change]:
    for day in sorted(instance.workdays - job.weekdays):
        more = replace(job, weekdays=job.weekdays | {day})
        yield f"the homeowner lets the crew in on {WEEKDAYS[day]}", 1, _with_job(instance, more)


def _blackouts(instance: Instance, job: Job) -> Iterator[Change]:
    for first, last in job.blackout:
        rest = tuple(span for span in job.blackout if span != (first, last))
        size = (last - first).days + 1
        words = f"the homeowner is there from {first} to {last}"
        yield words, size, _with_job(instance, replace(job, blackout=rest))


def _certificates(instance: Instance, job: Job) -> Iterator[Change]:
    for crew in instance.crews:
        held = {**crew.skills, **dict.fromkeys(job.skills, date.max)}
        lacking = sorted(s for s in job.skills if crew.skills.get(s, date.min) < instance.last_day)
        if lacking:
            crews = tuple(replace(c, skills=held) if c.id == crew.id else c for c in instance.crews)
            words = f"crew {crew.id} holds {', '.join(lacking)} to the end of the plan"
            yield words, len(lacking), replace(instance, crews=crews)


def _drives(instance: Instance) -> Iterator[Change]:
    for more in DRIVE_STEPS_MIN:
        longest = instance.max_drive_min + more
        words = f"{more} min more drive allowed"
        yield words, more, replace(instance, max_drive_min=longest)


def _payloads(instance: Instance, job: Job) -> Iterator[Change]:
    missing = sorted((job.weight_kg - c.payload_kg, c.id) for c in instance.crews)
    for kilograms, name in missing:
        if kilograms > 0:
            crews = tuple(
                replace(c, payload_kg=job.weight_kg) if c.id == name else c for c in instance.crews
            )
            words = f"a vehicle for {kilograms:.0f} kg more with crew {name}"
            yield words, kilograms, replace(instance, crews=crews)


def _sizes(instance: Instance, job: Job) -> Iterator[Change]:
    for crew in sorted(instance.crews, key=lambda c: (job.min_size - c.size, c.id)):
        people = job.min_size - crew.size
        if people > 0:
            crews = tuple(
                replace(c, size=job.min_size) if c.id == crew.id else c for c in instance.crews
            )
            words = f"{people} more on crew {crew.id}"
            yield words, people, replace(instance, crews=crews)


def _longer(instance: Instance) -> Iterator[Change]:
    for more in DAY_STEPS:
        words = f"jobs of {more} more half-days allowed"
        yield words, more, replace(instance, max_halfdays=instance.max_halfdays + more)


def _horizons(instance: Instance) -> Iterator[Change]:
    for days in DAY_STEPS:
        words = f"the plan runs {days} days longer"
        last = instance.last_day + timedelta(days=days)
        yield words, days, replace(instance, last_day=last)


@dataclass(frozen=True)
class CrewDayPrice:
    """What one more crew-day would save, at most and on average over the week's crew-days."""

    branch: str
    week: str
    most: float
    mean: float


def crew_day_prices(
    instance: Instance, should_stop: Callable[[], bool] = lambda: False
) -> list[CrewDayPrice]:
    """Return the dual prices of the linear relaxation by branch and ISO week.

    They hold for small changes around the best plan. Empty where the relaxation was not
    solved, as when ``should_stop`` says so. Imports the solver.
    """
    from contractor.engine.rostering.options import build_options
    from contractor.engine.rostering.relaxation import solve_relaxation
    from contractor.engine.rostering.rules import rows_used, run_rules

    table = build_options(instance)
    if not len(table):
        return []
    start = rows_used(run_rules(instance, table))
    relaxed = solve_relaxation(table, start, should_stop)
    if relaxed.answer is None:
        return []
    prices: dict[tuple[str, str], list[float]] = {}
    for number, crew in enumerate(instance.crews):
        first = int(table.first_cell[number])
        for index, day in enumerate(instance.calendar_of(crew).days):
            pair = relaxed.answer.cell_price[first + 2 * index : first + 2 * index + 2]
            week = "{}-W{:02}".format(*day.isocalendar()[:2])
            prices.setdefault((crew.branch, week), []).append(max(0.0, -float(pair.sum())))
    return [
        CrewDayPrice(branch, week, max(values), sum(values) / len(values))
        for (branch, week), values in sorted(prices.items())
    ]
