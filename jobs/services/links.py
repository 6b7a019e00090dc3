"""Secret links of homeowners: 256 random bits, only the hash is kept; guessing is throttled."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from datetime import UTC, datetime, timedelta
from typing import Any

from django.conf import settings
from django.db.models import F, QuerySet

from contractor.api.transactions import service
from jobs import locks
from jobs.errors import LinkError, LinkGoneError
from jobs.models import HomeownerLink, Job, LinkMiss

VALID_FOR = timedelta(days=90)
SEEN_EVERY = timedelta(minutes=1)
WINDOW_S = 900
MOST_MISSES = 20


def token_hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def new_token(job: Job, *, at: datetime) -> str:
    """Make a link for a locked job and return its token; it cannot be shown again."""
    token = secrets.token_urlsafe(32)
    HomeownerLink.objects.create(job=job, token_hash=token_hash(token), expires_at=at + VALID_FOR)
    return token


@service
def make_link(job_pk: int, *, at: datetime) -> str:
    """Make a new link for the homeowner; earlier links stop working."""
    job = locks.lock_job(job_pk)
    _revoke(job.links.filter(revoked_at__isnull=True), at)
    return new_token(job, at=at)


@service
def revoke_links(job_pk: int, *, at: datetime) -> int:
    """Make every link of this job stop working; return how many did work."""
    job = locks.lock_job(job_pk)
    return _revoke(job.links.filter(revoked_at__isnull=True, expires_at__gt=at), at)


def _revoke(links: QuerySet[HomeownerLink], at: datetime) -> int:
    rows = list(links.order_by("pk"))
    for row in rows:
        row.revoked_at = at
        row.save()
    return len(rows)


def find_link(token: str, *, at: datetime) -> HomeownerLink:
    """Return the live link of ``token``.

    Raises LinkError for a token that never was, LinkGoneError for an expired or revoked one;
    its ``facts`` name the company to call.
    """
    rows = HomeownerLink.objects.select_related("job__site__customer", "job__branch__company")
    link = rows.filter(token_hash=token_hash(token)).first()
    if link is None:
        raise LinkError("This link does not exist.", remedy="Ask the office for a new one.")
    if link.revoked_at is not None or link.expires_at <= at:
        raise LinkGoneError(
            "This link does not work any more.",
            remedy="Ask the office for a new one.",
            company=link.job.branch.company.name,
            phone=office_phone(link.job),
        )
    if link.last_used_at is None or at - link.last_used_at >= SEEN_EVERY:
        HomeownerLink.objects.filter(pk=link.pk).update(last_used_at=at)
    return link


def office_phone(job: Job) -> str:
    """Return the number homeowners call: ``settings["phone"]`` of the company, "" if unknown."""
    return str(job.branch.company.settings.get("phone", ""))


def is_throttled(address: str, *, at: datetime) -> bool:
    """Whether this address has guessed too often in this quarter of an hour."""
    rows = LinkMiss.objects.filter(address_hash=_address_hash(address), window=_window(at))
    return (rows.values_list("count", flat=True).first() or 0) >= MOST_MISSES


def note_miss(address: str, *, at: datetime) -> None:
    """Count a link that does not exist against the address that asked for it."""
    row: dict[str, Any] = {"address_hash": _address_hash(address), "window": _window(at)}
    LinkMiss.objects.get_or_create(**row)
    LinkMiss.objects.filter(**row).update(count=F("count") + 1)


def window_ends_in(at: datetime) -> int:
    """Return the seconds until a throttled address may ask again."""
    return WINDOW_S - int(at.timestamp()) % WINDOW_S


def _window(at: datetime) -> datetime:
    return datetime.fromtimestamp(int(at.timestamp()) // WINDOW_S * WINDOW_S, UTC)


def _address_hash(address: str) -> str:
    return hmac.new(settings.SECRET_KEY.encode(), address.encode(), hashlib.sha256).hexdigest()


def forget_misses(*, at: datetime) -> int:
    """Delete counts older than a day; return how many."""
    return LinkMiss.objects.filter(window__lt=at - timedelta(days=1)).delete()[0]
