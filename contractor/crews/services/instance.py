"""Turn rows into an ``install-sched/1`` document: what the engine and its checker read.

Judgements, made here once: a crew is away on every half-day on which one of its members is
(the office moves a stand-in into the crew if it is to go all the same); a certificate counts
if somebody on the crew holds it on the first day of the plan; a job without coordinates or
labour is left out and named. Two half-day jobs on one crew-day share the drive.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q

from contractor.api.models import Branch
from contractor.crews.models import Crew, CrewPlan, Holiday, Pin, Visit
from contractor.crews.services.crew_document import KG_PER_LB, crew_document
from contractor.crews.services.standing import PLANNABLE, OpenVisits, open_visits
from jobs.models import Job

EARTH_RADIUS_KM = 6371.0088
DEFAULTS: dict[str, Any] = {
    "workdays_per_week": [0, 1, 2, 3, 4],
    "hours_per_half_day": 4,
    "max_halfdays": 10,
    "max_drive_min": 90,
    "road_factor": 1.3,
    "speed_kmh": 60,
    "shared_days": True,
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


@dataclass(frozen=True)
class Built:
    """The document, the jobs left out (each with its reason), and what is already agreed."""

    document: dict[str, Any]
    left_out: list[dict[str, str]]
    visits: OpenVisits


def build_instance(branch: Branch, *, today: date, first_day: date, last_day: date) -> Built:
    """Read what a plan of these days depends on. Places are on the branch's plane."""
    visits = open_visits(branch, today=today, first_day=first_day, last_day=last_day)
    jobs, left_out = _jobs(branch, first_day, visits)
    known = {job["id"] for job in jobs}
    pins = [pin for pin in Pin.objects.filter(branch=branch) if str(pin.job_id) in known]
    crews = _crews(branch, visits, pins)
    document = {
        "schema": "install-sched/1",
        "today": today.isoformat(),
        "first_day": first_day.isoformat(),
        "last_day": last_day.isoformat(),
        "public_holidays": [],
        **rates_of(branch),
        "branches": [{"id": str(branch.pk), "xy": [0.0, 0.0], "holidays": _holidays(branch)}],
        "crews": [crew_document(crew, first_day, last_day, visits.standing) for crew in crews],
        "jobs": jobs,
        "pins": [_pin(pin) for pin in pins],
        "agreed": _agreed(branch, visits),
    }
    return Built(document, left_out, visits)


def _agreed(branch: Branch, visits: OpenVisits) -> dict[str, Any]:
    """What a plan starts from, for the hash only: the plan in force and the open visits."""
    in_force = CrewPlan.objects.filter(branch=branch, status=CrewPlan.Status.PUBLISHED)
    return {
        "plan": in_force.values_list("pk", flat=True).first(),
        "visits": [
            [visit.pk, visit.status, visit.crew_id, visit.date.isoformat(), visit.half]
            for visit in (*visits.movable, *visits.lapsed)
        ],
    }


def rates_of(branch: Branch) -> dict[str, Any]:
    """Return hours, limits and weights: ours, with the company's own on top."""
    own = branch.company.settings.get("crew_plan", {})
    weights = {**DEFAULTS["weights"], **own.get("weights", {})}
    return {**DEFAULTS, **{name: own[name] for name in DEFAULTS if name in own}, "weights": weights}


def input_hash(document: dict[str, Any]) -> str:
    """Return the SHA-256 of what a plan depends on.

    Left out: ``today``, which moves by itself, and the places of jobs on the plane, which a
    travel service may have moved; their coordinates count instead.
    """
    kept = {name: value for name, value in document.items() if name != "today"}
    kept["jobs"] = [
        {name: value for name, value in job.items() if name != "xy"} for job in kept["jobs"]
    ]
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()


def place_km(branch: Branch, latitude: float, longitude: float) -> list[float]:
    """Return east and north of the branch in km, on the plane that touches the earth there.

    Within 150 km the error is below 0.1 %, less than the detour factor is known to.
    """
    north = math.radians(latitude - (branch.latitude or 0.0)) * EARTH_RADIUS_KM
    middle = math.radians((latitude + (branch.latitude or 0.0)) / 2)
    east = math.radians(longitude - (branch.longitude or 0.0)) * EARTH_RADIUS_KM * math.cos(middle)
    return [round(east, 3), round(north, 3)]


def _holidays(branch: Branch) -> list[str]:
    days = Holiday.objects.filter(branch=branch, is_confirmed=True).order_by("day")
    return [day.isoformat() for day in days.values_list("day", flat=True)]


def _crews(branch: Branch, visits: OpenVisits, pins: list[Pin]) -> list[Crew]:
    """Return the crews that can work, and those that a visit or a pin still names."""
    named = {visit.crew_id for visit in visits.movable}
    named |= {pin.crew_id for pin in pins if pin.crew_id is not None}
    works = Q(is_active=True, members__is_active=True)
    rows = Crew.objects.filter(Q(branch=branch) & (works | Q(pk__in=named)))
    return list(rows.select_related("vehicle").distinct().order_by("pk"))


def _pin(pin: Pin) -> dict[str, Any]:
    return {
        "job": str(pin.job_id),
        "crew": str(pin.crew_id) if pin.crew_id else None,
        "date": pin.date.isoformat() if pin.date else None,
        "half": pin.half or None,
        "owner": pin.owner,
        "reason": pin.reason,
    }


def _jobs(
    branch: Branch, first_day: date, visits: OpenVisits
) -> tuple[list[dict[str, Any]], list[dict[str, str]]]:
    confirmed = {
        visit.job_id: visit for visit in visits.movable if visit.status == Visit.Status.CONFIRMED
    }
    rows = Job.objects.filter(branch=branch, status__in=PLANNABLE)
    rows = rows.exclude(pk__in=visits.settled_jobs)
    jobs, left_out = [], []
    for job in rows.select_related("site").prefetch_related("blackouts").order_by("pk"):
        why = _cannot_be_planned(branch, job)
        if why:
            left_out.append({"job": str(job.pk), "reason": why})
        else:
            jobs.append(_job(branch, job, confirmed.get(job.pk), first_day))
    return jobs, left_out


def _cannot_be_planned(branch: Branch, job: Job) -> str:
    if job.site.latitude is None or job.site.longitude is None:
        return "the site has no coordinates"
    if branch.latitude is None or branch.longitude is None:
        return "the branch has no coordinates"
    return "" if job.labour_minutes else "the job has no labour"


def _job(branch: Branch, job: Job, confirmed: Visit | None, first_day: date) -> dict[str, Any]:
    at = [job.site.latitude or 0.0, job.site.longitude or 0.0]
    return {
        "id": str(job.pk),
        "at": at,
        "xy": place_km(branch, *at),
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
        "confirmed": _slot(confirmed) if confirmed else None,
    }


def _slot(visit: Visit) -> dict[str, str]:
    return {"crew": str(visit.crew_id), "date": visit.date.isoformat(), "half": visit.half}
