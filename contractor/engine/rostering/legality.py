"""Whether one crew may do one job from one half-day on, and every rule that says no.

This is the slow, plain twin of :mod:`contractor.engine.rostering.options`: it looks at one
option and names what is wrong with it. Tests hold the two against each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from contractor.engine.rostering import costs
from contractor.engine.rostering.document import HALVES, Absence, Crew, Half, Instance, Job


@dataclass(frozen=True)
class Obstacle:
    """One hard rule that an option breaks; ``code`` is stable, ``text`` is for people."""

    code: str
    text: str


def covers(absence: Absence, day: date, half: Half) -> bool:
    return absence.first <= day <= absence.last and absence.half in (None, half)


def earliest_day(instance: Instance, job: Job) -> date:
    """The first day on which material, permit, today and the horizon let the job start."""
    return max(instance.today, instance.first_day, job.material_ready, job.permit_release)


def last_certified_day(crew: Crew, job: Job) -> date | None:
    """Last day on which all needed certificates hold; None without any, ``date.min`` if one
    is missing."""
    if not job.skills:
        return None
    return min(crew.skills.get(skill, date.min) for skill in job.skills)


def crew_obstacles(instance: Instance, job: Job, crew: Crew) -> list[Obstacle]:
    """What keeps ``crew`` from the job on any day at all."""
    found = []
    if crew.size < job.min_size:
        found.append(Obstacle("crew_too_small", f"{crew.size} people, {job.min_size} needed"))
    if crew.payload_kg < job.weight_kg:
        text = f"{job.weight_kg:g} kg is more than the {crew.payload_kg:g} kg of the vehicle"
        found.append(Obstacle("over_payload", text))
    found += [
        Obstacle("skill_missing", f"nobody on the crew is certified for {skill}")
        for skill in job.skills
        if skill not in crew.skills
    ]
    drive = costs.drive_min(instance, crew, job)
    if drive > instance.max_drive_min:
        text = f"{drive:.0f} min drive, at most {instance.max_drive_min:g}"
        found.append(Obstacle("too_far", text))
    needed = costs.halfdays_needed(instance, crew, job)
    if needed is None or needed > instance.max_halfdays:
        text = f"{needed or 'too many'} half-days, at most {instance.max_halfdays}"
        found.append(Obstacle("too_long", text))
    pin = instance.pin_of.get(job.id)
    if pin is not None and pin.crew not in (None, crew.id):
        found.append(Obstacle("pinned_elsewhere", f"pinned to crew {pin.crew} by {pin.owner}"))
    return found


def start_obstacles(
    instance: Instance, job: Job, crew: Crew, day: date, half: Half
) -> list[Obstacle]:
    """Every hard rule that a start of ``job`` with ``crew`` on ``day`` would break, in order."""
    found = crew_obstacles(instance, job, crew)
    calendar = instance.calendar_of(crew)
    index = calendar.index_of.get(day)
    if index is None:
        outside = not instance.first_day <= day <= instance.last_day
        code = "outside_horizon" if outside else "not_a_working_day"
        return [*found, Obstacle(code, f"{day} is no working day of the plan")]
    needed = costs.halfdays_needed(instance, crew, job)
    if needed is None:
        return found
    start = 2 * index + HALVES.index(half)
    if needed % 2 == 0 and half == "pm":
        found.append(Obstacle("even_starts_am", f"{needed} half-days start in the morning"))
    if start + needed > calendar.halfdays:
        found.append(Obstacle("outside_horizon", f"would run past {instance.last_day}"))
    found += _pin_obstacles(instance, job, day, half)
    cells = [
        (calendar.days[cell // 2], HALVES[cell % 2])
        for cell in range(start, min(start + needed, calendar.halfdays))
    ]
    return found + _day_obstacles(instance, job, crew, cells)


def _pin_obstacles(instance: Instance, job: Job, day: date, half: Half) -> list[Obstacle]:
    pin = instance.pin_of.get(job.id)
    if pin is None or (pin.date in (None, day) and pin.half in (None, half)):
        return []
    when = " ".join(str(part) for part in (pin.date, pin.half) if part)
    return [Obstacle("pinned_elsewhere", f"pinned to {when} by {pin.owner}")]


def _day_obstacles(
    instance: Instance, job: Job, crew: Crew, cells: list[tuple[date, Half]]
) -> list[Obstacle]:
    first, last = cells[0][0], cells[-1][0]
    found = []
    for code, limit, what in (
        ("before_today", instance.today, "the plan starts"),
        ("before_material", job.material_ready, "material is there"),
        ("before_permit", job.permit_release, "the permit is released"),
    ):
        if first < limit:
            found.append(Obstacle(code, f"{first} is before {what} ({limit})"))
    days = sorted({day for day, _ in cells})
    for day in days:
        if day.weekday() not in job.weekdays:
            found.append(Obstacle("weekday_not_allowed", f"{day:%A} does not suit the homeowner"))
        if any(start <= day <= end for start, end in job.blackout):
            found.append(Obstacle("in_blackout", f"the homeowner is away on {day}"))
    for skill in job.skills:
        if skill in crew.skills and crew.skills[skill] < last:
            text = f"the {skill} certificate ends {crew.skills[skill]}, the job {last}"
            found.append(Obstacle("skill_expired", text))
    for day, half in cells:
        if any(covers(absence, day, half) for absence in crew.absences):
            found.append(Obstacle("crew_absent", f"{crew.id} is away {day} {half}"))
    return found
