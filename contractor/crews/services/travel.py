"""How long a drive takes: great circle times a detour, or a matrix service if a company says so.

``company.settings["travel"]``: ``{"provider": "great_circle" | "matrix", "detour": 1.3,
"speed_kmh": 50}``. The matrix service is the one of ``settings.TRAVEL_MATRIX_URL``; when it is
slow or down the great circle does, and the plan's report says so. Nothing here may run while a
row is locked.
"""

from __future__ import annotations

import math
import time
from functools import cache
from typing import Any

from django.conf import settings

from contractor.api.models import Branch
from contractor.engine.rostering.travel import (
    GreatCircleTravel,
    HttpMatrixTravel,
    Place,
    TravelProvider,
)

MATRIX = "matrix"


def provider_of(branch: Branch) -> TravelProvider:
    """Return what the branch's company chose."""
    chosen = branch.company.settings.get("travel", {})
    straight = GreatCircleTravel(
        detour=float(chosen.get("detour", 1.3)), speed_kmh=float(chosen.get("speed_kmh", 50.0))
    )
    if not uses_matrix(branch):
        return straight
    return _matrix(settings.TRAVEL_MATRIX_URL, straight)


def uses_matrix(branch: Branch) -> bool:
    chosen = branch.company.settings.get("travel", {})
    return chosen.get("provider") == MATRIX and bool(settings.TRAVEL_MATRIX_URL)


@cache
def _matrix(url: str, fallback: GreatCircleTravel) -> HttpMatrixTravel:
    """One per address and process, for it keeps what it was told."""
    return HttpMatrixTravel(url, clock=time.monotonic, fallback=fallback)


def with_drives(document: dict[str, Any], branch: Branch) -> tuple[dict[str, Any], str]:
    """Return an ``install-sched/1`` with the company's drives in it, and where they are from.

    The format knows places on a plane only. With a matrix, each job moves along its bearing to
    where its drive from the branch takes as long as the matrix says; between two jobs of one
    crew-day that is an estimate.
    """
    jobs = document["jobs"]
    if not jobs or not uses_matrix(branch):
        rates = document["road_factor"], document["speed_kmh"]
        return document, "plane at the branch x {:g} at {:g} km/h".format(*rates)
    yard = Place(branch.latitude or 0.0, branch.longitude or 0.0)
    matrix = provider_of(branch).matrix([yard, *(Place(*job["at"]) for job in jobs)])
    km_per_min = document["speed_kmh"] / 60 / document["road_factor"]
    moved = [
        {**job, "xy": _at_distance(job["xy"], leg.minutes * km_per_min)}
        for job, leg in zip(jobs, matrix.legs[0][1:], strict=True)
    ]
    return {**document, "jobs": moved}, matrix.source


def _at_distance(xy: list[float], km: float) -> list[float]:
    length = math.hypot(*xy)
    if length == 0:
        return [round(km, 3), 0.0]
    return [round(part * km / length, 3) for part in xy]
