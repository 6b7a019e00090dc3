"""Which visits a new plan may move, and which stand whatever it says.

Judgements, made here once: a visit has started when its install record is open, or when its
first half-day lies before today and its crew was not away then. What has started stays, and so
does a visit that reaches out of the days being planned. A visit of a job that is no longer to
be built is neither: it is withdrawn. A visit that lies before today but was not begun has
lapsed: its job is planned as if it were new, and the visit keeps its identity.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q

from contractor.api.models import Branch
from contractor.crews.hours import halves_touched
from contractor.crews.models import Absence, ServiceVisit, Visit
from jobs.models import Job

PLANNABLE = (Job.Status.RESERVED, Job.Status.PLANNED)
OPEN = (Visit.Status.TENTATIVE, Visit.Status.CONFIRMED)
Span = dict[str, Any]


@dataclass(frozen=True)
class Stands:
    """A visit that stays, ``started`` or ``outside`` the days of the plan."""

    visit: Visit
    why: str


@dataclass(frozen=True)
class OpenVisits:
    movable: tuple[Visit, ...]
    standing: tuple[Stands, ...]
    lapsed: tuple[Visit, ...]

    @property
    def settled_jobs(self) -> set[int]:
        return {one.visit.job_id for one in self.standing}


def open_visits(branch: Branch, *, today: date, first_day: date, last_day: date) -> OpenVisits:
    """Sort the tentative and confirmed visits of a branch."""
    movable, standing, lapsed = [], [], []
    rows = Visit.objects.filter(branch=branch, status__in=OPEN).select_related("job", "crew")
    for visit in rows.order_by("pk"):
        if visit.job.status == Job.Status.INSTALLING or _has_begun(visit, today):
            standing.append(Stands(visit, "started"))
        elif visit.job.status not in PLANNABLE:
            continue
        elif visit.date < today:
            lapsed.append(visit)
        elif visit.date < first_day or visit.last_date > last_day:
            standing.append(Stands(visit, "outside"))
        else:
            movable.append(visit)
    return OpenVisits(tuple(movable), tuple(standing), tuple(lapsed))


def _has_begun(visit: Visit, today: date) -> bool:
    if visit.date >= today or visit.job.status not in PLANNABLE:
        return False
    away = Absence.objects.filter(
        Q(crew=visit.crew) | Q(member__crew=visit.crew, member__is_active=True),
        Q(half="") | Q(half=visit.half),
        first__lte=visit.date,
        last__gte=visit.date,
    )
    return not away.exists()


def span_of(visit: Visit, why: str) -> list[Span]:
    """Return the absences (document members) that the half-days of a visit are."""
    first, last = visit.date.isoformat(), visit.last_date.isoformat()
    if first == last:
        whole = (visit.half, visit.last_half) == ("am", "pm")
        return [_span(first, first, None if whole else visit.half, why)]
    edges = [_span(first, first, "pm", why)] if visit.half == "pm" else []
    edges += [_span(last, last, "am", why)] if visit.last_half == "am" else []
    inner_first = visit.date.toordinal() + (visit.half == "pm")
    inner_last = visit.last_date.toordinal() - (visit.last_half == "am")
    if inner_first > inner_last:
        return edges
    days = [date.fromordinal(number).isoformat() for number in (inner_first, inner_last)]
    return [*edges, _span(days[0], days[1], None, why)]


def _span(first: str, last: str, half: str | None, why: str) -> Span:
    return {"first": first, "last": last, "half": half, "why": why}


def service_spans(visits: Iterable[ServiceVisit]) -> list[Span]:
    """Return the half-days on which somebody is out on service visits, as absences."""
    found = {
        (visit.date.isoformat(), half)
        for visit in visits
        for half in halves_touched(visit.leaves, visit.returns)
    }
    return [_span(day, day, half, "service visit") for day, half in sorted(found)]
