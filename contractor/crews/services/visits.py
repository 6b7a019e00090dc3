"""Visits: confirmed with the homeowner, cancelled, done, or placed by hand."""

from __future__ import annotations

from datetime import date

from contractor.api import events
from contractor.api.transactions import service
from contractor.crews import locks, states
from contractor.crews.errors import NobodyCertifiedError, NoLegalVisitError
from contractor.crews.models import Visit
from contractor.crews.services.instance import build_instance
from contractor.crews.services.placing import withdraw
from contractor.crews.services.standing import OPEN, PLANNABLE
from contractor.engine.rostering.legality import crew_obstacles
from contractor.engine.rostering.reading import read_instance
from contractor.errors import InvalidValueError
from jobs import locks as job_locks
from jobs.models import Job

INSTALLED = (Job.Status.INSTALLED, Job.Status.CLOSED)
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
    withdraw(visit, "the office took it back")
    return visit


def finish_visits() -> int:
    """Mark the visits of installed jobs as done, withdraw those of jobs not to be built.

    Return how many. Each visit is a transaction of its own.
    """
    rows = Visit.objects.filter(status__in=OPEN)
    over = rows.filter(job__status__in=INSTALLED)
    off = rows.exclude(job__status__in=(*INSTALLED, *PLANNABLE, Job.Status.INSTALLING))
    keys = {
        name: list(found.order_by("pk").values_list("pk", flat=True))
        for name, found in (("over", over), ("off", off))
    }
    return sum(_finish(pk) for pk in keys["over"]) + sum(_call_off(pk) for pk in keys["off"])


@service
def _finish(visit_pk: int) -> bool:
    visit = locks.lock_visit(visit_pk)
    if visit.status not in OPEN:
        return False
    states.move_visit(visit, V.DONE)
    visit.save()
    events.record("visit.done", visit, branch=visit.branch, job=visit.job_id)
    return True


@service
def _call_off(visit_pk: int) -> bool:
    visit = locks.lock_visit(visit_pk)
    job = job_locks.lock_job(visit.job_id)
    if visit.status not in OPEN or job.status in (*PLANNABLE, Job.Status.INSTALLING):
        return False
    withdraw(visit, f"the job is {job.status}")
    return True


def require_plannable(job: Job, *, today: date, last_day: date) -> None:
    """Refuse a job that no crew of its branch could do on any day: says whom lacks what."""
    document = build_instance(job.branch, today=today, first_day=today, last_day=last_day).document
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
