"""Turn rows into an ``install-sched/1`` document: what the engine and its checker read.

Judgements, made here once: a crew is away on every half-day on which one of its members is
(the office moves a stand-in into the crew if it is to go all the same); a certificate counts
if somebody on the crew holds it on the first day of the plan; a job whose site has no
coordinates is left out and named.
"""

from __future__ import annotations

import hashlib
import json
import math
from datetime import date
from typing import Any

from contractor.api.models import Branch
from contractor.crews.models import Absence, Crew, Holiday, Visit
from jobs.models import Job, Site

KG_PER_LB = 0.45359237
EARTH_RADIUS_KM = 6371.0088
FAR_DAY = date(2999, 12, 31)
PLANNABLE = (Job.Status.RESERVED, Job.Status.PLANNED)
DEFAULTS: dict[str, Any] = {
    "workdays_per_week": [0, 1, 2, 3, 4],
    "hours_per_half_day": 4,
    "max_halfdays": 10,
    "max_drive_min": 90,
    "road_factor": 1.3,
    "speed_kmh": 60,
    "weights": {
        "tardy_half_day": 60,
        "sev": {"1": 1, "2": 2, "3": 4, "4": 8},
        "travel_min": 1,
        "weekend_split": 40,
        "crew_change": 100,
        "date_change": 500,
        "date_change_per_day": 50,
        "unscheduled": 1000,
    },
}


def build_instance(
    branch: Branch, *, today: date, first_day: date, last_day: date
) -> tuple[dict[str, Any], list[dict[str, str]]]:
    """Return the document and the jobs left out, each with its reason."""
    jobs, left_out = _jobs(branch, first_day)
    crews = branch.crews.filter(is_active=True).select_related("vehicle").order_by("pk")
    holidays = Holiday.objects.filter(branch=branch, is_confirmed=True)
    document = {
        "schema": "install-sched/1",
        "today": today.isoformat(),
        "first_day": first_day.isoformat(),
        "last_day": last_day.isoformat(),
        "public_holidays": [
            day.isoformat()
            for day in holidays.filter(day__gte=first_day, day__lte=last_day)
            .order_by("day")
            .values_list("day", flat=True)
        ],
        **DEFAULTS,
        **branch.company.settings.get("crew_plan", {}),
        "branches": [{"id": str(branch.pk), "xy": [0.0, 0.0]}],
        "crews": [_crew(crew, first_day) for crew in crews],
        "jobs": jobs,
    }
    return document, left_out


def input_hash(document: dict[str, Any]) -> str:
    """Return the SHA-256 of the document without ``today``, which moves by itself."""
    kept = {name: value for name, value in document.items() if name != "today"}
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()


def place_km(branch: Branch, latitude: float, longitude: float) -> list[float]:
    """Return east and north of the branch in km, on the plane that touches the earth there.

    Within 150 km the error is below 0.1 %, less than the detour factor is known to.
    """
    north = math.radians(latitude - (branch.latitude or 0.0)) * EARTH_RADIUS_KM
    middle = math.radians((latitude + (branch.latitude or 0.0)) / 2)
    east = math.radians(longitude - (branch.longitude or 0.0)) * EARTH_RADIUS_KM * math.cos(middle)
    return [round(east, 3), round(north, 3)]


def _crew(crew: Crew, first_day: date) -> dict[str, Any]:
    members = crew.members.filter(is_active=True)
    absences = Absence.objects.filter(crew=crew) | Absence.objects.filter(member__in=members)
    return {
        "id": str(crew.pk),
        "branch": str(crew.branch_id),
        "size": members.count(),
        "pace": crew.pace,
        "skills": _skills(crew, first_day),
        "payload_kg": round(crew.vehicle.payload_lb * KG_PER_LB, 1) if crew.vehicle else 0.0,
        "absences": [
            {
                "first": absence.first.isoformat(),
                "last": absence.last.isoformat(),
                "half": absence.half or None,
            }
            for absence in absences.order_by("first", "pk").distinct()
        ],
    }


def _skills(crew: Crew, first_day: date) -> dict[str, str]:
    last: dict[str, date] = {}
    for member in crew.members.filter(is_active=True).order_by("pk"):
        for paper in member.certificates.filter(valid_from__lte=first_day).order_by("pk"):
            ends = paper.valid_to or FAR_DAY
            last[paper.skill] = max(ends, last.get(paper.skill, date.min))
    return {skill: ends.isoformat() for skill, ends in sorted(last.items())}


def _jobs(branch: Branch, first_day: date) -> tuple[list[dict[str, Any]], list[dict[str, str]]]:
    rows = (
        Job.objects.filter(branch=branch, status__in=PLANNABLE)
        .select_related("site")
        .prefetch_related("blackouts", "visits")
        .order_by("pk")
    )
    jobs, left_out = [], []
    for job in rows:
        if job.site.latitude is None or job.site.longitude is None or branch.latitude is None:
            left_out.append({"job": str(job.pk), "reason": "the site has no coordinates"})
        else:
            jobs.append(_job(job, place_km(branch, *_coordinates(job.site)), first_day))
    return jobs, left_out


def _coordinates(site: Site) -> tuple[float, float]:
    return site.latitude or 0.0, site.longitude or 0.0


def _job(job: Job, xy: list[float], first_day: date) -> dict[str, Any]:
    visits = [visit for visit in job.visits.all() if visit.status == Visit.Status.CONFIRMED]
    return {
        "id": str(job.pk),
        "xy": xy,
        "braces": job.brace_count,
        "labour_h": round(job.labour_minutes / 60, 2),
        "skills": sorted(job.skills),
        "min_size": job.min_crew_size,
        "weight_kg": round(job.weight_lb * KG_PER_LB, 1),
        "material_ready": (job.material_ready or first_day).isoformat(),
        "permit_release": (job.permit_release or first_day).isoformat(),
        "weekdays": sorted(job.weekdays),
        "blackout": [[b.first.isoformat(), b.last.isoformat()] for b in job.blackouts.all()],
        "severity": job.severity,
        "due": job.due.isoformat(),
        "confirmed": _slot(visits[0]) if visits else None,
    }


def _slot(visit: Visit) -> dict[str, str]:
    return {"crew": str(visit.crew_id), "date": visit.date.isoformat(), "half": visit.half}
