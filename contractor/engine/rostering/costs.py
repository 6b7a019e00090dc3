"""What a visit costs, part by part, and what it costs to leave a job out.

All costs are whole numbers in the units of the instance's weights; the parts are those of
``install-sched/1``. Travel of a shared crew-day is the one part that needs two jobs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from datetime import date
from itertools import pairwise

from contractor.engine.rostering.document import HALVES, Crew, Instance, Job, Slot

ROUND_OFF = 1e-9  # a job of exactly n half-days must not become n + 1 by binary fractions
LEFT_OUT_HALFDAYS = 20  # an unplanned job counts as finished this long after the horizon
LEFT_OUT_DAYS_MOVED = 10  # and a confirmed one as moved by this many working days


@dataclass(frozen=True)
class CostParts:
    """The parts of one job's cost; those that do not apply are 0."""

    travel: int = 0
    tardiness: int = 0
    weekend_split: int = 0
    crew_change: int = 0
    date_change: int = 0
    unscheduled: int = 0

    @property
    def total(self) -> int:
        return sum(getattr(self, part.name) for part in fields(self))


def drive_min(instance: Instance, crew: Crew, job: Job) -> float:
    """Minutes one way from the crew's branch to the job."""
    branch = instance.branch_of[crew.branch]
    return _minutes(instance, math.hypot(branch.x_km - job.x_km, branch.y_km - job.y_km))


def _minutes(instance: Instance, straight_km: float) -> float:
    return straight_km * instance.road_factor / instance.speed_kmh * 60


def halfdays_needed(instance: Instance, crew: Crew, job: Job) -> int | None:
    """Half-days that ``crew`` needs; None when a half-day leaves no time beside the drive."""
    hours = instance.hours_per_half_day - drive_min(instance, crew, job) / 120
    if hours <= 0:
        return None
    return max(1, math.ceil(job.labour_h / (crew.size * crew.pace * hours) - ROUND_OFF))


def travel_cost(instance: Instance, crew: Crew, job: Job, halfdays: int) -> int:
    days = math.ceil(halfdays / 2)
    return round(2 * drive_min(instance, crew, job) * days * instance.weights.travel_min)


def shared_travel_cost(instance: Instance, crew: Crew, first: Job, second: Job) -> int:
    """Travel of two half-day jobs on one crew-day: out to one, over to the other, back.

    Never more than driving home in between.
    """
    between = _minutes(instance, math.hypot(first.x_km - second.x_km, first.y_km - second.y_km))
    out, back = drive_min(instance, crew, first), drive_min(instance, crew, second)
    shared = round((out + between + back) * instance.weights.travel_min)
    return min(
        shared,
        travel_cost(instance, crew, first, 1) + travel_cost(instance, crew, second, 1),
    )


def tardy_halfdays(instance: Instance, crew: Crew, job: Job, end: int) -> int:
    """Working half-days after the end of the due day when the job ends before half-day ``end``."""
    return max(0, end - instance.calendar_of(crew).halfdays_through(job.due))


def visit_cost(instance: Instance, crew: Crew, job: Job, start: int, halfdays: int) -> CostParts:
    """The parts of ``job`` done by ``crew`` from half-day ``start`` of the crew's calendar."""
    weights = instance.weights
    late = tardy_halfdays(instance, crew, job, start + halfdays)
    days = instance.calendar_of(crew).days[start // 2 : (start + halfdays + 1) // 2]
    split = any((after - day).days > 1 for day, after in pairwise(days))
    slot = Slot(crew.id, days[0], HALVES[start % 2])
    return CostParts(
        travel=travel_cost(instance, crew, job, halfdays),
        tardiness=weights.tardy_half_day * weights.sev[job.severity] * late,
        weekend_split=weights.weekend_split if split else 0,
        crew_change=weights.crew_change if job.confirmed and job.confirmed.crew != crew.id else 0,
        date_change=date_change_cost(instance, crew, job, slot),
    )


def date_change_cost(instance: Instance, crew: Crew, job: Job, slot: Slot) -> int:
    """Cost of another start than the confirmed one; days are the crew's working days."""
    agreed = job.confirmed
    if agreed is None or (agreed.date, agreed.half) == (slot.date, slot.half):
        return 0
    calendar = instance.calendar_of(crew)
    days = abs(calendar.position(slot.date) - calendar.position(agreed.date))
    return instance.weights.date_change + instance.weights.date_change_per_day * days


def unplanned_cost(instance: Instance, job: Job) -> CostParts:
    """The parts of leaving ``job`` out of the plan."""
    weights = instance.weights
    late = max(0, halfdays_left(instance, job.due) + LEFT_OUT_HALFDAYS)
    broken = weights.date_change + LEFT_OUT_DAYS_MOVED * weights.date_change_per_day
    return CostParts(
        tardiness=weights.tardy_half_day * weights.sev[job.severity] * late,
        date_change=broken if job.confirmed else 0,
        unscheduled=weights.unscheduled,
    )


def halfdays_left(instance: Instance, due: date) -> int:
    """Working half-days after ``due`` up to the last day; below 0 for a later due day."""
    if due > instance.last_day:
        return -2 * round((due - instance.last_day).days * 5 / 7)
    calendar = instance.calendar
    return calendar.halfdays_through(instance.last_day) - calendar.halfdays_through(due)
