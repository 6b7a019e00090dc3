"""What we hold about a homeowner, given out on request, and taken out on request or with time.

Erasing takes the person out and leaves the work: readings, torques, dates and the stock ledger
stay, with nobody's name at them. Answers kept for repeated requests go by themselves after a
day; the audit trail keeps that something changed, not what it was.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.db import transaction
from django.db.models import Max, Q

from contractor.api import audit, events
from contractor.api.models import Company
from contractor.api.transactions import service
from contractor.engine.followup.due_dates import add_months
from contractor.engine.rostering.fields import Field
from contractor.errors import WrongStateError
from jobs import locks
from jobs.models import CareLog, Customer, HomeownerLink, Job, Photo, Site, TextReply
from jobs.services import customers, followup

ERASED = "erased"
LINKS_KEPT = timedelta(days=365)
REPLIES_KEPT = timedelta(days=730)
LIVE = (Job.Status.INSTALLING, Job.Status.PLANNED, Job.Status.RESERVED, Job.Status.RELEASED)
CUSTOMER_FIELDS = ("name", "email", "phone", "reference")
SITE_FIELDS = ("label", "address", "latitude", "longitude", "reference")
ENDED = (Job.Status.CLOSED, Job.Status.CANCELLED)


def personal_data(customer_pk: int) -> dict[str, Any]:
    """Return everything that is held about one homeowner, as plain values."""
    customer = Customer.objects.get(pk=customer_pk)
    sites = [_site(site) for site in customer.sites.order_by("pk")]
    return {
        "customer": _columns(customer, (*CUSTOMER_FIELDS, "language", "created_at")),
        "consents": [
            _columns(one, ("channel", "source", "granted_at", "revoked_at", "revoked_by"))
            for one in customer.consents.order_by("pk")
        ],
        "replies": [
            _columns(one, ("received_at", "text", "meaning"))
            for one in customer.replies.order_by("pk")
        ],
        "sites": sites,
    }


def _columns(row: Any, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in names if hasattr(row, name)}


def _site(site: Site) -> dict[str, Any]:
    readings = ("wall", "kind", "measured_on", "value_ticks", "torque_lbf_ft", "source")
    return {
        **_columns(site, (*SITE_FIELDS, "time_zone", "state", "built_year")),
        "jobs": [_job(job) for job in site.jobs.order_by("pk")],
        "readings": [_columns(one, readings) for one in site.readings.order_by("pk")],
    }


def _job(job: Job) -> dict[str, Any]:
    photos = Photo.objects.filter(install__job=job).order_by("pk")
    return {
        **_columns(job, ("title", "status", "created_at")),
        "reminders": [
            _columns(one, ("kind", "due_on", "status", "channel", "sent_at"))
            for one in job.reminders.order_by("pk")
        ],
        "care_logs": [
            _columns(one, ("outcome", "note", "logged_at")) for one in job.care_logs.order_by("pk")
        ],
        "visit_requests": [
            _columns(one, ("reason", "detail", "status", "created_at"))
            for one in job.visit_requests.order_by("pk")
        ],
        "photos": [_columns(one, ("source", "taken_at", "created_at")) for one in photos],
    }


@service
def erase_person(customer_pk: int, *, at: datetime, if_match: int | None = None) -> Customer:
    """Take the person out of every row. WrongStateError while work at the house is under way."""
    customer = locks.lock_customer(customer_pk)
    customer.expect_version(if_match)
    if Job.objects.filter(site__customer=customer, status__in=LIVE).exists():
        raise WrongStateError(
            "Work at this customer's house is planned or under way.",
            remedy="Close or cancel the job first.",
        )
    customers.take_back(customer, channel=None, by="erased", at=at)
    for site in customer.sites.select_for_update().order_by("pk"):
        _erase_site(site, at)
    for reply in customer.replies.order_by("pk"):
        audit.redact(audit.subject_of(reply), ("text",))
    customer.replies.all().delete()
    for consent in customer.consents.order_by("pk"):
        _blank(consent, ("source", "stopped_why"), source=ERASED)
    _blank(customer, CUSTOMER_FIELDS, name=ERASED)
    events.record("customer.erased", customer, branch=customer.branch)
    return customer


def _erase_site(site: Site, at: datetime) -> None:
    for key in site.jobs.order_by("pk").values_list("pk", flat=True):
        job = locks.lock_job(key)
        followup.cancel_open(locks.lock_reminders_of(job))
        job.links.filter(revoked_at__isnull=True).update(revoked_at=at)
        for log in CareLog.objects.filter(job=job).exclude(note=""):
            _blank(log, ("note",))
        for request in job.visit_requests.exclude(detail=""):
            _blank(request, ("detail",))
        for photo in Photo.objects.filter(install__job=job):
            _delete_photo(photo)
    _blank(site, SITE_FIELDS, label=f"{ERASED} {site.pk}")


def _delete_photo(photo: Photo) -> None:
    for file in (photo.file, photo.thumbnail):
        transaction.on_commit(partial(file.storage.delete, str(file.name)))
    photo.delete()


def _blank(row: Any, names: tuple[str, ...], **instead: str) -> None:
    """Empty the columns that the row has, and what the audit trail remembers of them."""
    for name in names:
        if hasattr(row, name):
            is_null = row._meta.get_field(name).null
            setattr(row, name, instead.get(name, None if is_null else ""))
    row.save()
    audit.redact(audit.subject_of(row), names)


def check_retention(document: object) -> int | None:
    """Return the months of ``{"months_after_close": 120}``; raises InputError."""
    months = Field(document).get("months_after_close")
    return None if months is None else months.whole(least=1, most=600)


def keep_retention(*, at: datetime) -> int:
    """Erase people whose time has run out, where the company has set one; return how many.

    Links go a year after they ended and texts after two years everywhere.
    """
    HomeownerLink.objects.filter(expires_at__lt=at - LINKS_KEPT).delete()
    TextReply.objects.filter(received_at__lt=at - REPLIES_KEPT).delete()
    count = 0
    for company in Company.objects.filter(settings__has_key="retention").order_by("pk"):
        months = check_retention(company.settings["retention"] or {})
        for key in _over(company, months, at) if months else ():
            erase_person(key, at=at)
            count += 1
    return count


def _over(company: Company, months: int, at: datetime) -> list[int]:
    """Return customers whose last job ended, and whose rows last changed, before the time."""
    before = add_months(at.date(), -months)
    ended = Q(sites__jobs__status__in=ENDED)
    rows = Customer.objects.filter(branch__company=company).exclude(name=ERASED)
    rows = rows.exclude(sites__jobs__in=Job.objects.exclude(status__in=ENDED))
    rows = rows.annotate(last=Max("sites__jobs__updated_at", filter=ended))
    return list(rows.filter(last__date__lt=before).order_by("pk").values_list("pk", flat=True))
