"""A crew as the engine reads it: how many, what they may do and carry, when they are away."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db.models import Q

from contractor.crews.models import Absence, Certificate, Crew, Member, ServiceVisit
from contractor.crews.services.standing import OPEN, Stands, service_spans, span_of

KG_PER_LB = 0.45359237
FAR_DAY = date(2999, 12, 31)


def crew_document(
    crew: Crew, first_day: date, last_day: date, standing: Iterable[Stands]
) -> dict[str, Any]:
    """Return the crew; absences carry ``why``, and visits that stand are absences too."""
    members = list(crew.members.filter(is_active=True).order_by("pk"))
    away = _absences(crew, members, first_day, last_day)
    for one in standing:
        if one.visit.crew_id == crew.pk and one.visit.last_date >= first_day:
            away += span_of(one.visit, f"visit {one.visit.pk} stands")
    away += service_spans(_service_visits(members, first_day, last_day))
    if not (crew.is_active and members):
        away = [_whole(first_day, last_day, "this crew is not at work")]
    return {
        "id": str(crew.pk),
        "branch": str(crew.branch_id),
        "size": max(1, len(members)),
        "pace": crew.pace,
        "skills": skills_of(members, first_day),
        "payload_kg": round(crew.vehicle.payload_lb * KG_PER_LB, 1) if crew.vehicle else 0.0,
        "absences": away,
    }


def _whole(first_day: date, last_day: date, why: str) -> dict[str, Any]:
    return {
        "first": first_day.isoformat(),
        "last": last_day.isoformat(),
        "half": None,
        "why": why,
    }


def _absences(
    crew: Crew, members: list[Member], first_day: date, last_day: date
) -> list[dict[str, Any]]:
    rows = Absence.objects.filter(
        Q(crew=crew) | Q(member__in=members), first__lte=last_day, last__gte=first_day
    )
    return [
        {
            "first": absence.first.isoformat(),
            "last": absence.last.isoformat(),
            "half": absence.half or None,
            "why": absence.reason or "away",
        }
        for absence in rows.order_by("first", "pk")
    ]


def _service_visits(members: list[Member], first_day: date, last_day: date) -> list[ServiceVisit]:
    rows = ServiceVisit.objects.filter(
        member__in=members, status__in=OPEN, date__gte=first_day, date__lte=last_day
    )
    return list(rows.order_by("pk"))


def skills_of(members: Iterable[Member], on: date) -> dict[str, str]:
    """Return skill -> last valid day, of certificates that somebody holds on ``on``."""
    last: dict[str, date] = {}
    for paper in Certificate.objects.filter(member__in=members, valid_from__lte=on):
        ends = paper.valid_to or FAR_DAY
        last[paper.skill] = max(ends, last.get(paper.skill, date.min))
    return {skill: ends.isoformat() for skill, ends in sorted(last.items())}
