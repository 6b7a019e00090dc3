"""What a calendar feed of a crew, a member or a job says."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q, QuerySet

from contractor.crews.hours import HALF_DAY_HOURS
from contractor.crews.models import CalendarFeed, Crew, ServiceVisit, Visit
from contractor.crews.services.calendars import live_feed
from contractor.engine.calendars.feed import CalendarEvent, Status, Timed, write_feed

KEPT_FOR = timedelta(days=60)
STATUS: dict[str, Status] = {
    Visit.Status.TENTATIVE: "TENTATIVE",
    Visit.Status.CONFIRMED: "CONFIRMED",
    Visit.Status.DONE: "CONFIRMED",
    Visit.Status.CANCELLED: "CANCELLED",
}


def feed_text(token: str, *, at: datetime) -> bytes:
    """Return the iCalendar text behind a token; NotFoundError for unknown and revoked alike.

    One event per visit, from its first to its last half-day, in the branch's zone.
    """
    feed = live_feed(token)
    CalendarFeed.objects.filter(pk=feed.pk).update(last_used_at=at)
    since = at.date() - KEPT_FOR
    return _written(feed, since)


def crew_feed(crew: Crew, *, shows_addresses: bool, today: date) -> bytes:
    """Return a crew's feed without an address behind it, to print or to attach."""
    feed = CalendarFeed(branch=crew.branch, crew=crew, shows_addresses=shows_addresses)
    return _written(feed, today - KEPT_FOR)


def _written(feed: CalendarFeed, since: date) -> bytes:
    found = [_visit_event(visit, feed.shows_addresses) for visit in _visits(feed, since)]
    found += [_service_event(visit, feed.shows_addresses) for visit in _services(feed, since)]
    return write_feed(found, name=_name(feed), zone_name=feed.branch.time_zone)


def _name(feed: CalendarFeed) -> str:
    """A job's feed goes to a homeowner; only with addresses does it carry the job's title."""
    if feed.crew is not None:
        return feed.crew.name
    if feed.member is not None:
        return feed.member.name
    return feed.job.title if feed.job and feed.shows_addresses else f"Job {feed.job_id}"


def _visits(feed: CalendarFeed, since: date) -> QuerySet[Visit]:
    if feed.member is not None:
        # Somebody without a crew goes on no install; crew=None would match none either.
        whose = Q(crew=feed.member.crew_id)
    else:
        whose = Q(crew=feed.crew_id) if feed.crew_id else Q(job=feed.job_id)
    rows = Visit.objects.filter(whose, last_date__gte=since)
    return rows.select_related("job__site", "branch").order_by("pk")


def _services(feed: CalendarFeed, since: date) -> QuerySet[ServiceVisit]:
    if feed.crew is not None:
        whose = Q(member__crew=feed.crew)
    else:
        whose = Q(member=feed.member_id) if feed.member_id else Q(request__job=feed.job_id)
    rows = ServiceVisit.objects.filter(whose, date__gte=since)
    return rows.select_related("request__job__site", "branch").order_by("pk")


def _visit_event(visit: Visit, shows_addresses: bool) -> CalendarEvent:
    job = visit.job
    return CalendarEvent(
        uid=_uid(visit),
        summary=job.title if shows_addresses else f"Install, {job.brace_count} braces",
        when=_when(
            visit,
            (visit.date, HALF_DAY_HOURS[visit.half][0]),
            (visit.last_date, HALF_DAY_HOURS[visit.last_half][1]),
        ),
        revised=visit.updated_at,
        sequence=visit.sequence,
        status=STATUS[visit.status],
        description=f"Job {job.pk}, {visit.half_days} half-days",
        location=job.site.address if shows_addresses else "",
    )


def _service_event(visit: ServiceVisit, shows_addresses: bool) -> CalendarEvent:
    job = visit.request.job
    return CalendarEvent(
        uid=_uid(visit),
        summary=f"Service visit: {job.title}" if shows_addresses else "Service visit",
        when=_when(visit, (visit.date, visit.starts), (visit.date, visit.finishes)),
        revised=visit.updated_at,
        sequence=visit.sequence,
        status=STATUS[visit.status],
        description=f"Job {job.pk}, {visit.request.reason.replace('_', ' ')}",
        location=job.site.address if shows_addresses else "",
    )


def _uid(visit: Visit | ServiceVisit) -> str:
    return f"{visit.uid}@{urlsplit(settings.SITE_URL).hostname}"


def _when(visit: Visit | ServiceVisit, start: tuple[date, time], end: tuple[date, time]) -> Timed:
    zone = ZoneInfo(visit.branch.time_zone)
    return Timed(datetime.combine(*start, tzinfo=zone), datetime.combine(*end, tzinfo=zone))
