"""Private addresses of calendar feeds, and holidays that a branch confirms."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime

from contractor.api import events
from contractor.api.transactions import service
from contractor.crews import locks
from contractor.crews.models import CalendarFeed, Crew, Holiday, Member
from contractor.engine.calendars.holiday_proposals import holiday_proposals
from contractor.errors import InvalidValueError, NotFoundError
from jobs.models import Job


@service
def make_feed(
    crew_pk: int | None = None,
    *,
    member_pk: int | None = None,
    job_pk: int | None = None,
    shows_addresses: bool,
) -> str:
    """Make a private feed address of a crew, a member or a job; return its token.

    Only the token's hash is kept.
    """
    return _new_feed(crew_pk, member_pk, job_pk, shows_addresses)[1]


@service
def add_feed(
    *,
    crew_pk: int | None = None,
    member_pk: int | None = None,
    job_pk: int | None = None,
    shows_addresses: bool,
) -> tuple[CalendarFeed, str]:
    """Make a private feed address; return its row and, this once, its token."""
    return _new_feed(crew_pk, member_pk, job_pk, shows_addresses)


def _new_feed(
    crew_pk: int | None, member_pk: int | None, job_pk: int | None, shows_addresses: bool
) -> tuple[CalendarFeed, str]:
    token = secrets.token_urlsafe(32)
    subject = _subject(crew_pk, member_pk, job_pk)
    feed = CalendarFeed.objects.create(
        branch=subject.branch,
        crew_id=crew_pk,
        member_id=member_pk,
        job_id=job_pk,
        token_hash=_hash(token),
        shows_addresses=shows_addresses,
    )
    events.record("calendar_feed.made", subject, branch=subject.branch, feed=feed.pk)
    return feed, token


def _subject(crew_pk: int | None, member_pk: int | None, job_pk: int | None) -> Crew | Member | Job:
    if crew_pk is not None:
        return Crew.objects.get(pk=crew_pk)
    if member_pk is not None:
        return Member.objects.get(pk=member_pk)
    if job_pk is not None:
        return Job.objects.get(pk=job_pk)
    raise InvalidValueError("Whose calendar?", remedy="Name a crew, a member or a job.")


@service
def revoke_feeds(crew_pk: int, *, at: datetime) -> int:
    """Make every feed address of a crew stop working; return how many did work."""
    live = CalendarFeed.objects.select_for_update().filter(crew_id=crew_pk, revoked_at=None)
    rows = list(live.order_by("pk"))
    for row in rows:
        row.revoked_at = at
        row.save()
    return len(rows)


@service
def revoke_feed(feed_pk: int, *, at: datetime) -> CalendarFeed:
    """Make one feed address stop working. Doing it twice is harmless."""
    feed = CalendarFeed.objects.select_for_update().get(pk=feed_pk)
    if feed.revoked_at is None:
        feed.revoked_at = at
        feed.save()
    return feed


def live_feed(token: str) -> CalendarFeed:
    """Return the feed behind a token; NotFoundError for unknown and revoked alike."""
    feed = (
        CalendarFeed.objects.select_related("branch", "crew", "member", "job")
        .filter(token_hash=_hash(token), revoked_at__isnull=True)
        .first()
    )
    if feed is None:
        raise NotFoundError("There is no such calendar.", remedy="Ask the office for its address.")
    return feed


@service
def propose_holidays(branch_pk: int, *, year: int, subdivision: str | None) -> list[Holiday]:
    """Write the public holidays of a year as proposals; days that have a row keep it."""
    branch = locks.lock_branch(branch_pk)
    rows = []
    for proposal in holiday_proposals(year, "US", subdivision):
        row, _ = Holiday.objects.get_or_create(
            branch=branch, day=proposal.day, defaults={"name": proposal.name[:120]}
        )
        rows.append(row)
    return rows


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
