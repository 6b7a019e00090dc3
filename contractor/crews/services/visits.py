"""Visits: confirmed with the homeowner, cancelled, done, or placed by hand."""

from __future__ import annotations

from datetime import date
from typing import Any

from contractor.api import events
from contractor.api.transactions import service
from contractor.crews import locks, states
from contractor.crews.errors import NobodyCertifiedError, NoLegalVisitError
from contractor.crews.models import CrewPlan, Visit
from contractor.crews.services.instance import build_instance
from contractor.engine.rostering.document import Crew, Half, Instance
from contractor.engine.rostering.document import Job as EngineJob
from contractor.engine.rostering.legality import crew_obstacles, start_obstacles
from contractor.engine.rostering.reading import read_instance
from contractor.errors import InvalidValueError, NotFoundError
from jobs import locks as job_locks
from jobs import states as job_states
from jobs.models import Job

V = Visit.Status


@service
def confirm_visit(visit_pk: int, *, if_match: int | None = None) -> Visit:
    """The homeowner agreed to this half-day; re-planning now pays for moving it."""
    visit = locks.lock_visit(visit_pk)
    visit.expect_version(if_match)
    states.move_visit(visit, V.CONFIRMED)
    visit.save()
    events.record("visit.confirmed", visit, branch=visit.branch, job=visit.job_id)
    return visit


@service
def cancel_visit(visit_pk: int, *, if_match: int | None = None) -> Visit:
    """Take the visit back; the job waits for the next plan."""
    visit = locks.lock_visit(visit_pk)
    visit.expect_version(if_match)
    states.move_visit(visit, V.CANCELLED)
    visit.sequence += 1
    visit.save()
    job = job_locks.lock_job(visit.job_id)
    if job.status == Job.Status.PLANNED:
        job_states.move_job(job, Job.Status.RESERVED)
        job.save()
    events.record("visit.cancelled", visit, branch=visit.branch, job=visit.job_id)
    return visit


@service
def finish_visits() -> int:
    """Mark the visits of installed jobs as done; return how many."""
    over = Visit.objects.filter(
        status__in=[V.TENTATIVE, V.CONFIRMED], job__status__in=[Job.Status.INSTALLED]
    )
    count = 0
    for pk in list(over.order_by("pk").values_list("pk", flat=True)):
        visit = locks.lock_visit(pk)
        states.move_visit(visit, V.DONE)
        visit.save()
        events.record("visit.done", visit, branch=visit.branch, job=visit.job_id)
        count += 1
    return count


def obstacles(plan: CrewPlan, job_pk: int, crew_pk: int, day: date, half: Half) -> dict[str, Any]:
    """Say, rule by rule, what keeps a crew from starting a job on a half-day of a plan."""
    instance = read_instance(plan.instance)
    job, crew = _find(instance, str(job_pk), str(crew_pk))
    found = start_obstacles(instance, job, crew, day, half)
    return {
        "is_legal": not found,
        "obstacles": [{"code": obstacle.code, "text": obstacle.text} for obstacle in found],
    }


def _find(instance: Instance, job_id: str, crew_id: str) -> tuple[EngineJob, Crew]:
    job = next((one for one in instance.jobs if one.id == job_id), None)
    crew = next((one for one in instance.crews if one.id == crew_id), None)
    if job is None or crew is None:
        raise NotFoundError("This plan does not know that job or crew.")
    return job, crew


def require_plannable(job: Job, *, today: date, last_day: date) -> None:
    """Refuse a job that no crew of its branch could do on any day: says whom lacks what."""
    document, _ = build_instance(job.branch, today=today, first_day=today, last_day=last_day)
    if not any(one["id"] == str(job.pk) for one in document["jobs"]):
        raise InvalidValueError(
            "This job cannot be planned yet.",
            remedy="Reserve its material, and give its site coordinates.",
            status_now=job.status,
        )
    instance = read_instance(document)
    wanted = next(one for one in instance.jobs if one.id == str(job.pk))
    by_crew = {crew.id: crew_obstacles(instance, wanted, crew) for crew in instance.crews}
    if any(not found for found in by_crew.values()):
        return
    facts = {crew: [o.text for o in found] for crew, found in by_crew.items()}
    if by_crew and all(any(o.code == "skill_missing" for o in f) for f in by_crew.values()):
        raise NobodyCertifiedError(
            f"No crew holds the certificates for this job: {', '.join(wanted.skills)}.",
            remedy="Enter the certificate of a member, or train one.",
            crews=facts,
        )
    raise NoLegalVisitError(
        "No crew of this branch can do this job.",
        remedy="Look at the reasons per crew.",
        crews=facts,
    )
