"""Every legal option of an instance: which crew can start which job on which half-day.

The rules are those of ``install-sched/1``: drive, size, payload, certificates through the
last day, material, permit, the homeowner's days, absences and the horizon; pins narrow
them. Costs equal :mod:`contractor.engine.rostering.costs`, computed for many starts at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from contractor.engine.rostering import costs
from contractor.engine.rostering.document import HALVES, Crew, Instance, Job
from contractor.engine.rostering.legality import covers, earliest_day, last_certified_day
from contractor.engine.rostering.shared_days import with_pairs
from contractor.engine.rostering.table import ALONE, Bools, Ints, OptionTable, sorted_table
from contractor.engine.rostering.worktime import WorkCalendar

_Columns = dict[str, Ints]


@dataclass(frozen=True)
class _Team:
    """The crews that keep one calendar, and their absences as running counts of half-days."""

    calendar: WorkCalendar
    crews: tuple[Crew, ...]
    numbers: Ints
    absent_before: Ints  # crews x (half-days + 1)
    run: Ints  # per half-day: number of breaks (weekends, holidays) before it


def build_options(instance: Instance) -> OptionTable:
    """Return the table of all legal options, sorted."""
    parts = [
        columns
        for team in _teams(instance)
        for number, job in enumerate(instance.jobs)
        if (columns := _options_of(instance, team, job, number)) is not None
    ]
    names = ("job", "mate", "crew", "start", "length", "cost")
    empty = np.zeros(0, np.int64)
    columns = {name: np.concatenate([empty, *(p[name] for p in parts)]) for name in names}
    unplanned = [costs.unplanned_cost(instance, job).total for job in instance.jobs]
    spans = [instance.calendar_of(crew).halfdays for crew in instance.crews]
    table = sorted_table(columns, np.array(unplanned, np.int64), np.array(spans, np.int64))
    return with_pairs(instance, table) if instance.shared_days else table


def _teams(instance: Instance) -> list[_Team]:
    groups: dict[frozenset[date], list[int]] = {}
    for number, crew in enumerate(instance.crews):
        groups.setdefault(instance.calendar_of(crew).holidays, []).append(number)
    return [_team(instance, numbers) for numbers in groups.values()]


def _team(instance: Instance, numbers: list[int]) -> _Team:
    crews = tuple(instance.crews[number] for number in numbers)
    calendar = instance.calendar_of(crews[0])
    absent = np.array([[*_absent(crew, calendar), False] for crew in crews], np.int64)
    before = np.cumsum(absent, axis=1) - absent
    gaps = [0] + [
        int((after - day).days > 1)
        for day, after in zip(calendar.days, calendar.days[1:], strict=False)
    ]
    run = np.repeat(np.cumsum(np.array(gaps, np.int64))[: len(calendar.days)], 2)
    return _Team(calendar, crews, np.array(numbers, np.int64), before, run)


def _absent(crew: Crew, calendar: WorkCalendar) -> list[bool]:
    return [
        any(covers(absence, day, half) for absence in crew.absences)
        for day in calendar.days
        for half in HALVES
    ]


def _options_of(instance: Instance, team: _Team, job: Job, number: int) -> _Columns | None:
    able = [i for i, crew in enumerate(team.crews) if _is_able(instance, crew, job)]
    if not able or not team.calendar.days:
        return None
    crews = [team.crews[i] for i in able]
    needed = [costs.halfdays_needed(instance, crew, job) for crew in crews]
    length = np.array(needed, np.int64)[:, None]
    start = np.arange(team.calendar.halfdays, dtype=np.int64)[None, :]
    legal = _legal_starts(instance, team, job, np.array(able, np.int64), start, length)
    row, col = np.nonzero(legal)
    if not len(row):
        return None
    cost = _costs_of(instance, team, job, crews, start, length)
    return {
        "job": np.full(len(row), number, np.int64),
        "mate": np.full(len(row), ALONE, np.int64),
        "crew": team.numbers[np.array(able, np.int64)[row]],
        "start": col.astype(np.int64),
        "length": length[row, 0],
        "cost": cost[row, col],
    }


def _is_able(instance: Instance, crew: Crew, job: Job) -> bool:
    """Whether size, payload, drive and length of the job leave ``crew`` in question."""
    pin = instance.pin_of.get(job.id)
    needed = costs.halfdays_needed(instance, crew, job)
    return (
        crew.size >= job.min_size
        and crew.payload_kg >= job.weight_kg
        and costs.drive_min(instance, crew, job) <= instance.max_drive_min
        and needed is not None
        and needed <= instance.max_halfdays
        and (pin is None or pin.crew in (None, crew.id))
    )


def _legal_starts(
    instance: Instance, team: _Team, job: Job, able: Ints, start: Ints, length: Ints
) -> Bools:
    """Crews x half-days: whether the job may start there."""
    calendar, halfdays = team.calendar, team.calendar.halfdays
    first = max(0, 2 * calendar.position(earliest_day(instance, job)))
    certified = [
        halfdays if last is None else min(halfdays, calendar.halfdays_through(last))
        for last in (last_certified_day(team.crews[i], job) for i in able)
    ]
    end = start + length
    legal: Bools = (start >= first) & (end <= np.array(certified, np.int64)[:, None])
    legal &= (length % 2 == 1) | (start % 2 == 0)
    end = np.minimum(end, halfdays)
    unsuited = _unsuited_before(calendar, job)
    legal &= unsuited[end] == unsuited[start]
    absent = team.absent_before[able]
    legal &= np.take_along_axis(absent, end, axis=1) == absent[:, :halfdays]
    return legal & _pinned_starts(instance, calendar, job)[None, :]


def _unsuited_before(calendar: WorkCalendar, job: Job) -> Ints:
    """Running count of half-days on which the homeowner cannot have the crew."""
    unsuited = [
        day.weekday() not in job.weekdays
        or any(first <= day <= last for first, last in job.blackout)
        for day in calendar.days
    ]
    flags = np.repeat(np.array(unsuited, np.int64), 2)
    return np.concatenate((np.zeros(1, np.int64), np.cumsum(flags)))


def _pinned_starts(instance: Instance, calendar: WorkCalendar, job: Job) -> Bools:
    free = np.ones(calendar.halfdays, np.bool_)
    pin = instance.pin_of.get(job.id)
    if pin is None:
        return free
    if pin.date is not None:
        free[:] = False
        day = calendar.index_of.get(pin.date)
        if day is not None:
            free[2 * day : 2 * day + 2] = True
    if pin.half is not None:
        free[1 - HALVES.index(pin.half) :: 2] = False
    return free


def _costs_of(
    instance: Instance, team: _Team, job: Job, crews: list[Crew], start: Ints, length: Ints
) -> Ints:
    """Crews x half-days: cost of the job there; only legal places mean anything."""
    weights, calendar = instance.weights, team.calendar
    travel = [
        costs.travel_cost(instance, crew, job, int(need))
        for crew, need in zip(crews, length[:, 0], strict=True)
    ]
    end = start + length
    late = np.maximum(0, end - calendar.halfdays_through(job.due))
    last = np.minimum(end, calendar.halfdays) - 1
    split = team.run[last] != team.run[start]
    cost: Ints = np.array(travel, np.int64)[:, None] + (
        late * (weights.tardy_half_day * weights.sev[job.severity])
    )
    cost += np.where(split, weights.weekend_split, 0)
    return cost + _change_costs(instance, calendar, job, crews)


def _change_costs(instance: Instance, calendar: WorkCalendar, job: Job, crews: list[Crew]) -> Ints:
    """Crews x half-days: cost of leaving what was confirmed to the homeowner."""
    change = np.zeros((len(crews), calendar.halfdays), np.int64)
    if job.confirmed is None:
        return change
    weights, agreed = instance.weights, job.confirmed
    for row, crew in enumerate(crews):
        if crew.id != agreed.crew:
            change[row] += weights.crew_change
    day = np.arange(calendar.halfdays, dtype=np.int64) // 2
    moved = np.abs(day - calendar.position(agreed.date))
    dates = weights.date_change + weights.date_change_per_day * moved
    if agreed.date in calendar.index_of:
        dates[2 * calendar.index_of[agreed.date] + HALVES.index(agreed.half)] = 0
    change += dates[None, :]
    return change
