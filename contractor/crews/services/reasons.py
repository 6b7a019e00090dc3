"""Why a plan is as it is: answers from its own documents, computed while nothing is locked."""

from __future__ import annotations

from datetime import date
from typing import Any

from contractor.crews.models import CrewPlan
from contractor.engine.rostering.document import Crew, Half, Instance, Job
from contractor.engine.rostering.legality import start_obstacles
from contractor.engine.rostering.reading import read_instance
from contractor.errors import NotFoundError


def why_not(plan: CrewPlan, job_pk: int, crew_pk: int, day: date, half: Half) -> dict[str, Any]:
    """Say, rule by rule, what keeps a crew from starting a job on a half-day of a plan."""
    instance = read_instance(plan.instance)
    job, crew = _find(instance, str(job_pk), str(crew_pk))
    found = start_obstacles(instance, job, crew, day, half)
    return {
        "is_legal": not found,
        "obstacles": [{"code": obstacle.code, "text": obstacle.text} for obstacle in found],
    }


def _find(instance: Instance, job_id: str, crew_id: str) -> tuple[Job, Crew]:
    job, crew = instance.job_of.get(job_id), instance.crew_of.get(crew_id)
    if job is None or crew is None:
        raise NotFoundError("This plan does not know that job or crew.")
    return job, crew
