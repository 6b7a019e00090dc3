"""On which half-days a member is free for service visits."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date, time, timedelta
from typing import Any

from django.db.models import Q

from contractor.api.models import Branch
from contractor.crews.hours import HALF_DAY_HOURS, halves_touched
from contractor.crews.models import Absence, Holiday, Member, ServiceVisit, Visit
from contractor.crews.services.standing import OPEN, span_of

YARD = "yard"
Cell = tuple[date, str]


def member_days(
    branch: Branch,
    weekdays: Collection[int],
    first_day: date,
    last_day: date,
    standing: Iterable[ServiceVisit],
) -> list[dict[str, Any]]:
    """Return the ``member_days`` of a document: from the first free hour to the last one.

    A day with both halves free is one span over the noon break. ``standing`` visits keep their
    half-days.
    """
    off = set(
        Holiday.objects.filter(branch=branch, is_confirmed=True).values_list("day", flat=True)
    )
    span = [first_day + timedelta(days=n) for n in range((last_day - first_day).days + 1)]
    days = [day for day in span if day.weekday() in weekdays and day not in off]
    kept: dict[int, set[Cell]] = {}
    for visit in standing:
        halves = halves_touched(visit.leaves, visit.returns)
        kept.setdefault(visit.member_id, set()).update((visit.date, half) for half in halves)
    members = branch.members.filter(is_active=True).select_related("crew").order_by("pk")
    return [
        _day(member, day, free)
        for member in members
        for taken in [_taken(member, first_day, last_day) | kept.get(member.pk, set())]
        for day in days
        if (free := [half for half in HALF_DAY_HOURS if (day, half) not in taken])
    ]


def _taken(member: Member, first_day: date, last_day: date) -> set[Cell]:
    """Return the half-days on which the member or the crew is away or on an install."""
    whose = Q(member=member)
    if member.crew_id is not None:
        whose |= Q(crew=member.crew_id)
    away = Absence.objects.filter(whose, first__lte=last_day, last__gte=first_day)
    spans = [(one.first, one.last, one.half or None) for one in away]
    installs = Visit.objects.filter(
        crew=member.crew_id, status__in=OPEN, date__lte=last_day, last_date__gte=first_day
    )
    for visit in installs:
        spans += [
            (date.fromisoformat(one["first"]), date.fromisoformat(one["last"]), one["half"])
            for one in span_of(visit, "install")
        ]
    return {
        (first + timedelta(days=n), part)
        for first, last, half in spans
        for n in range((last - first).days + 1)
        for part in ([half] if half else HALF_DAY_HOURS)
    }


def _day(member: Member, day: date, free: list[str]) -> dict[str, Any]:
    opens: time = HALF_DAY_HOURS[free[0]][0]
    closes: time = HALF_DAY_HOURS[free[-1]][1]
    papers = member.certificates.filter(valid_from__lte=day)
    papers = papers.filter(Q(valid_to__isnull=True) | Q(valid_to__gte=day))
    return {
        "member": str(member.pk),
        "day": day.isoformat(),
        "start": YARD,
        "end": YARD,
        "from": f"{opens:%H:%M}",
        "to": f"{closes:%H:%M}",
        "skills": sorted(set(papers.values_list("skill", flat=True))),
    }
