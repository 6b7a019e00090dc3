"""Calendar feeds of crews, and holidays that a branch confirms."""

from __future__ import annotations

import hashlib
import secrets
from datetime import date, datetime, time, timedelta
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings

from contractor.api.transactions import service
from contractor.crews import locks
from contractor.crews.models import CalendarFeed, Crew, Holiday, Visit
from contractor.engine.calendars.feed import CalendarEvent, Status, Timed, write_feed
from contractor.engine.calendars.holiday_proposals import holiday_proposals
from contractor.errors import NotFoundError

# When a half-day starts and ends on the wall clock of the branch (common practice).
HALF_DAY_HOURS = {"am": (time(8), time(12)), "pm": (time(12, 30), time(16, 30))}
KEPT_FOR = timedelta(days=60)
STATUS: dict[str, Status] = {
    Visit.Status.TENTATIVE: "TENTATIVE",
    Visit.Status.CONFIRMED: "CONFIRMED",
    Visit.Status.DONE: "CONFIRMED",
    Visit.Status.CANCELLED: "CANCELLED",
}


@service
def make_feed(crew_pk: int, *, shows_addresses: bool) -> str:
    """Make a private feed address and return its token; only its hash is kept."""
    token = secrets.token_urlsafe(32)
    crew = Crew.objects.get(pk=crew_pk)
    CalendarFeed.objects.create(
        branch=crew.branch,
        crew=crew,
        token_hash=_hash(token),
        shows_addresses=shows_addresses,
    )
    return token


@service
def revoke_feeds(crew_pk: int, *, at: datetime) -> int:
    """Make every feed address of a crew stop working; return how many did work."""
    live = CalendarFeed.objects.filter(crew_id=crew_pk, revoked_at__isnull=True)
    return live.update(revoked_at=at)


def feed_text(token: str, *, at: datetime) -> bytes:
    """Return the iCalendar text behind a token; NotFoundError for unknown and revoked alike."""
    feed = (
        CalendarFeed.objects.select_related("crew__branch")
        .filter(token_hash=_hash(token), revoked_at__isnull=True)
        .first()
    )
    if feed is None or feed.crew is None:
        raise NotFoundError("There is no such calendar.", remedy="Ask the office for its address.")
    CalendarFeed.objects.filter(pk=feed.pk).update(last_used_at=at)
    return crew_feed(feed.crew, shows_addresses=feed.shows_addresses, today=at.date())


def crew_feed(crew: Crew, *, shows_addresses: bool, today: date) -> bytes:
    """Return the feed of a crew: one event per half-day pair of a visit, in the branch's zone."""
    visits = (
        Visit.objects.filter(crew=crew, last_date__gte=today - KEPT_FOR)
        .select_related("job__site__customer", "branch")
        .order_by("pk")
    )
    events = [_event(visit, shows_addresses) for visit in visits]
    return write_feed(events, name=crew.name, zone_name=crew.branch.time_zone)


def _event(visit: Visit, shows_addresses: bool) -> CalendarEvent:
    zone = ZoneInfo(visit.branch.time_zone)
    start = datetime.combine(visit.date, HALF_DAY_HOURS[visit.half][0], tzinfo=zone)
    end = datetime.combine(visit.last_date, HALF_DAY_HOURS[visit.last_half][1], tzinfo=zone)
    job = visit.job
    return CalendarEvent(
        uid=f"{visit.uid}@{urlsplit(settings.SITE_URL).hostname}",
        summary=f"Install, {job.brace_count} braces" if not shows_addresses else job.title,
        when=Timed(start, end),
        revised=visit.updated_at,
        sequence=visit.sequence,
        status=STATUS[visit.status],
        description=f"Job {job.pk}, {visit.half_days} half-days",
        location=job.site.address if shows_addresses else "",
    )


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
