"""Secret links of homeowners: 256 random bits, only the hash is kept."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from contractor.api.transactions import service
from jobs import locks
from jobs.errors import LinkError
from jobs.models import HomeownerLink, Job

VALID_FOR = timedelta(days=90)


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
    job.links.filter(revoked_at__isnull=True).update(revoked_at=at)
    return new_token(job, at=at)


@service
def revoke_links(job_pk: int, *, at: datetime) -> int:
    """Make every link of this job stop working; return how many did work."""
    job = locks.lock_job(job_pk)
    return job.links.filter(revoked_at__isnull=True, expires_at__gt=at).update(revoked_at=at)


def find_link(token: str, *, at: datetime) -> HomeownerLink:
    """Return the live link of ``token``; LinkError for unknown, expired and revoked alike."""
    link = (
        HomeownerLink.objects.select_related("job__site__customer", "job__branch__company")
        .filter(token_hash=token_hash(token), revoked_at__isnull=True, expires_at__gt=at)
        .first()
    )
    if link is None:
        raise LinkError(
            "This link does not work (any more).",
            remedy="Ask the office for a new one.",
        )
    HomeownerLink.objects.filter(pk=link.pk).update(last_used_at=at)
    return link
