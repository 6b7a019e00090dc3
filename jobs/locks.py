"""All row locks. Order: branch, site, job, install record, brace records, reminders by pk."""

from __future__ import annotations

from typing import TypeVar

from django.db import models

from contractor.api.models import Branch
from contractor.errors import NotFoundError
from jobs.models import BraceRecord, Customer, InstallRecord, Job, Reminder, Site, VisitRequest

Row = TypeVar("Row", bound=models.Model)


def _lock(rows: models.QuerySet[Row], pk: int, noun: str) -> Row:
    row = rows.select_for_update(of=("self",)).filter(pk=pk).first()
    if row is None:
        raise NotFoundError(f"There is no {noun} {pk}.")
    return row


def lock_branch(pk: int) -> Branch:
    """One document at a time is imported at a branch; its other work goes on."""
    rows = Branch.objects.select_related("company")
    branch = rows.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if branch is None:
        raise NotFoundError(f"There is no branch {pk}.")
    return branch


def lock_customer(pk: int) -> Customer:
    return _lock(Customer.objects.all(), pk, "customer")


def lock_site(pk: int) -> Site:
    return _lock(Site.objects.all(), pk, "site")


def lock_job(pk: int) -> Job:
    rows = Job.objects.select_related("site__customer", "site__branch__company")
    return _lock(rows, pk, "job")


def lock_install(pk: int) -> InstallRecord:
    return _lock(InstallRecord.objects.all(), pk, "install record")


def lock_brace(pk: int) -> BraceRecord:
    return _lock(BraceRecord.objects.all(), pk, "brace record")


def lock_visit_request(pk: int) -> VisitRequest:
    return _lock(VisitRequest.objects.all(), pk, "visit request")


def lock_reminder(pk: int) -> Reminder:
    return _lock(Reminder.objects.all(), pk, "reminder")


def lock_reminders_of(job: Job) -> list[Reminder]:
    """Lock every reminder of a job, in order of pk."""
    return list(job.reminders.select_for_update().order_by("pk"))
