"""The instance with one rule, or all of them, taken away for one job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from contractor.engine.rostering import costs
from contractor.engine.rostering.document import Crew, Instance, Job
from contractor.engine.rostering.legality import covers
from contractor.engine.rostering.plan_document import Visit

ALL_WEEK = frozenset(range(7))
NO_LIMIT = 10**6


@dataclass(frozen=True)
class Rule:
    """A rule that can be lifted from one job.

    ``lift`` returns the instance (with that job alone) without the rule; ``amount`` says
    by how many ``unit`` the rule would have to give for a visit that lifting it allows.
    """

    code: str
    name: str
    unit: str
    lift: Callable[[Instance], Instance]
    amount: Callable[[Instance, Visit], float]


def _job(instance: Instance) -> Job:
    return instance.jobs[0]


def _with_job(instance: Instance, **changes: object) -> Instance:
    return replace(instance, jobs=(replace(_job(instance), **changes),))  # type: ignore[arg-type]


def _with_crews(instance: Instance, change: Callable[[Crew], Crew]) -> Instance:
    return replace(instance, crews=tuple(change(crew) for crew in instance.crews))


def _endless(instance: Instance, crew: Crew) -> Crew:
    """Certificates that the crew has, valid to the end of the horizon."""
    skills = {name: max(last, instance.last_day) for name, last in crew.skills.items()}
    return replace(crew, skills=skills)


def _crew(instance: Instance, visit: Visit) -> Crew:
    return instance.crew_of[visit.crew]


def _days(instance: Instance, visit: Visit) -> list[date]:
    calendar = instance.calendar_of(_crew(instance, visit))
    first = calendar.index_of[visit.date]
    halfdays = visit.halfdays + (1 if visit.half == "pm" else 0)
    return list(calendar.days[first : first + (halfdays + 1) // 2])


def _days_early(field: str) -> Callable[[Instance, Visit], float]:
    def amount(instance: Instance, visit: Visit) -> float:
        limit: date = getattr(_job(instance), field)
        calendar = instance.calendar_of(_crew(instance, visit))
        return max(0, calendar.position(limit) - calendar.position(visit.date))

    return amount


def _blackout_days(instance: Instance, visit: Visit) -> float:
    spans = _job(instance).blackout
    return sum(any(a <= day <= b for a, b in spans) for day in _days(instance, visit))


def _unsuited_days(instance: Instance, visit: Visit) -> float:
    return sum(day.weekday() not in _job(instance).weekdays for day in _days(instance, visit))


def _uncertified_days(instance: Instance, visit: Visit) -> float:
    skills = _crew(instance, visit).skills
    needed = [skills[name] for name in _job(instance).skills if name in skills]
    end = _days(instance, visit)[-1]
    return max([0, *((end - last).days for last in needed)])


def _absent_halfdays(instance: Instance, visit: Visit) -> float:
    crew = _crew(instance, visit)
    calendar = instance.calendar_of(crew)
    start = 2 * calendar.index_of[visit.date] + (1 if visit.half == "pm" else 0)
    cells = range(start, start + visit.halfdays)
    return sum(
        any(covers(a, calendar.days[c // 2], "pm" if c % 2 else "am") for a in crew.absences)
        for c in cells
    )


def _missing_skills(instance: Instance, visit: Visit) -> float:
    have = _crew(instance, visit).skills
    return sum(name not in have for name in _job(instance).skills)


def _lift_skills(instance: Instance) -> Instance:
    """Every crew has every certificate it lacks; those it has keep their dates."""
    beyond = instance.last_day + timedelta(days=1)
    needed = dict.fromkeys(_job(instance).skills, beyond)
    return _with_crews(instance, lambda c: replace(c, skills={**needed, **c.skills}))


RULES: tuple[Rule, ...] = (
    Rule(
        "crew_too_small",
        "size of the crew",
        "people",
        lambda i: _with_job(i, min_size=0),
        lambda i, v: _job(i).min_size - _crew(i, v).size,
    ),
    Rule(
        "over_payload",
        "payload of the vehicle",
        "kg",
        lambda i: _with_job(i, weight_kg=0.0),
        lambda i, v: _job(i).weight_kg - _crew(i, v).payload_kg,
    ),
    Rule("skill_missing", "certificates held", "certificates", _lift_skills, _missing_skills),
    Rule(
        "too_far",
        "drive limit",
        "minutes",
        lambda i: replace(i, max_drive_min=float(NO_LIMIT)),
        lambda i, v: costs.drive_min(i, _crew(i, v), _job(i)) - i.max_drive_min,
    ),
    Rule(
        "too_long",
        "longest job",
        "half-days",
        lambda i: replace(i, max_halfdays=NO_LIMIT),
        lambda i, v: v.halfdays - i.max_halfdays,
    ),
    Rule(
        "before_material",
        "material ready",
        "working days earlier",
        lambda i: _with_job(i, material_ready=date.min),
        _days_early("material_ready"),
    ),
    Rule(
        "before_permit",
        "permit released",
        "working days earlier",
        lambda i: _with_job(i, permit_release=date.min),
        _days_early("permit_release"),
    ),
    Rule(
        "weekday_not_allowed",
        "homeowner's weekdays",
        "days",
        lambda i: _with_job(i, weekdays=ALL_WEEK),
        _unsuited_days,
    ),
    Rule(
        "in_blackout",
        "homeowner's blackout",
        "days",
        lambda i: _with_job(i, blackout=()),
        _blackout_days,
    ),
    Rule(
        "skill_expired",
        "end of a certificate",
        "days later",
        lambda i: _with_crews(i, lambda crew: _endless(i, crew)),
        _uncertified_days,
    ),
    Rule(
        "crew_absent",
        "absence of the crew",
        "half-days",
        lambda i: _with_crews(i, lambda crew: replace(crew, absences=())),
        _absent_halfdays,
    ),
    Rule("pinned_elsewhere", "pin", "pins", lambda i: replace(i, pins=()), lambda i, v: 1),
)


def without_all(instance: Instance) -> Instance:
    """The instance, with one job, where none of the rules holds."""
    for rule in RULES:
        instance = rule.lift(instance)
    return instance
