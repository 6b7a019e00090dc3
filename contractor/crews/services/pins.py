"""Decisions of the office that plans must respect."""

from __future__ import annotations

from datetime import date

from contractor.api import events
from contractor.api.transactions import service
from contractor.crews import locks
from contractor.crews.errors import AlreadyPinnedError
from contractor.crews.models import Crew, Pin
from contractor.errors import InvalidValueError
from jobs.models import Job


@service
def pin_job(
    job_pk: int,
    *,
    owner: str,
    reason: str,
    crew_pk: int | None = None,
    day: date | None = None,
    half: str = "",
) -> Pin:
    """Keep a job with a crew, on a day, or both; the next plan respects it or leaves the job out.

    One pin per job: AlreadyPinnedError names its owner.
    """
    job = Job.objects.get(pk=job_pk)
    branch = locks.lock_branch(job.branch_id)
    if crew_pk is None and day is None:
        raise InvalidValueError(
            "A pin names a crew, a day or both.", remedy="Give crew, date or both."
        )
    if crew_pk is not None and not Crew.objects.filter(pk=crew_pk, branch=branch).exists():
        raise InvalidValueError(
            "The crew works at another branch.", remedy="Name a crew of the job's branch."
        )
    known = Pin.objects.filter(job=job).first()
    if known is not None:
        raise AlreadyPinnedError(
            f"{known.owner} pinned this job already: {known.reason}",
            remedy="Take that pin away first.",
            pin=known.pk,
            owner=known.owner,
        )
    pin = Pin.objects.create(
        branch=branch, job=job, crew_id=crew_pk, date=day, half=half, owner=owner, reason=reason
    )
    events.record("pin.set", pin, branch=branch, job=job.pk)
    return pin


@service
def take_pin_away(pin_pk: int, *, if_match: int | None = None) -> None:
    pin = Pin.objects.select_for_update().get(pk=pin_pk)
    pin.expect_version(if_match)
    events.record("pin.taken_away", pin, branch=pin.branch, job=pin.job_id)
    pin.delete()
