"""iCalendar feeds of visits (RFC 5545, RFC 7986): the same events give the same bytes.

DTSTAMP is the time of the last revision, as RFC 5545 section 3.8.7.2 wants it in a calendar
without METHOD, so a feed that did not change keeps its ETag. A cancelled event stays in the
feed with STATUS:CANCELLED, else it would live on in the reader's calendar.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, Literal
from zoneinfo import ZoneInfo

from contractor.engine.calendars.timezone_text import timezone_lines
from contractor.engine.calendars.zones import day_bounds, require_aware, zone
from contractor.engine.errors import InputError

PRODID = "-//Tautline//Crew calendar//EN"
CONTENT_TYPE = "text/calendar; charset=utf-8"
Status = Literal["TENTATIVE", "CONFIRMED", "CANCELLED"]
# Control characters other than tab and line feed may not stand in TEXT (RFC 5545, 3.1).
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


@dataclass(frozen=True)
class Timed:
    """From ``start`` until ``end`` (not included), both with an offset."""

    start: datetime
    end: datetime


@dataclass(frozen=True)
class AllDay:
    """Whole days, ``first`` to ``last``, both included; DTEND is written a day later."""

    first: date
    last: date


@dataclass(frozen=True)
class CalendarEvent:
    """One visit. ``uid`` never changes; ``sequence`` goes up at each move and at the cancel."""

    uid: str
    summary: str
    when: Timed | AllDay
    revised: datetime
    sequence: int = 0
    status: Status = "CONFIRMED"
    description: str = ""
    location: str = ""
    url: str = ""
    blocks_time: bool = True


def event_uid(kind: str, key: int | str, domain: str) -> str:
    """Return the UID of a row for as long as it lives, such as ``visit-12@example.org``."""
    return f"{kind}-{key}@{domain}"


def write_feed(
    events: Iterable[CalendarEvent],
    *,
    name: str,
    zone_name: str,
    refresh_minutes: int = 60,
    description: str = "",
) -> bytes:
    """Return the feed of ``events`` as UTF-8 with CRLF; local times in ``zone_name``.

    InputError for an empty span, a time without offset, or a UID that comes twice.
    """
    ordered = sorted(events, key=lambda event: event.uid)
    where = zone(zone_name)
    _check(ordered)
    calendar = _calendar(name, description, zone_name, refresh_minutes)
    for event in ordered:
        calendar.add_component(_component(event, where))
    text: bytes = calendar.to_ical()
    return _with_timezone(text, ordered, where)


def feed_etag(feed: bytes) -> str:
    """Return the strong ETag of a feed (RFC 9110, section 8.8.3), quotes included."""
    return f'"{hashlib.sha256(feed).hexdigest()[:32]}"'


def _check(events: Sequence[CalendarEvent]) -> None:
    seen: set[str] = set()
    for number, event in enumerate(events):
        pointer = f"/events/{number}"
        require_aware(event.revised, f"{pointer}/revised")
        if isinstance(event.when, Timed):
            start = require_aware(event.when.start, f"{pointer}/start")
            is_empty = require_aware(event.when.end, f"{pointer}/end") <= start
        else:
            is_empty = event.when.last < event.when.first
        if is_empty or not event.uid or event.sequence < 0:
            raise InputError(
                "event_impossible",
                pointer,
                f"Event {event.uid!r} ends before it starts, or has no UID.",
                "Give an end after the start.",
            )
        if event.uid in seen:
            raise InputError(
                "uid_repeated", pointer, f"UID {event.uid!r} comes twice.", "One event per UID."
            )
        seen.add(event.uid)


def _calendar(name: str, description: str, zone_name: str, refresh_minutes: int) -> Any:
    from icalendar import Calendar, vText

    calendar = Calendar()
    calendar.add("VERSION", "2.0")
    calendar.add("PRODID", PRODID)
    calendar.add("CALSCALE", "GREGORIAN")
    # The library knows NAME as no text, so it would not escape it.
    calendar.add("NAME", vText(clean(name)))
    # The same two for readers older than RFC 7986.
    calendar.add("X-WR-CALNAME", vText(clean(name)))
    calendar.add("X-WR-TIMEZONE", zone_name)
    if description:
        calendar.add("DESCRIPTION", clean(description))
    every = timedelta(minutes=refresh_minutes)
    calendar.add("REFRESH-INTERVAL", every, parameters={"VALUE": "DURATION"})
    calendar.add("X-PUBLISHED-TTL", every, parameters={"VALUE": "DURATION"})
    return calendar


def _component(event: CalendarEvent, where: ZoneInfo) -> Any:
    from icalendar import Event

    component = Event()
    component.add("UID", event.uid)
    component.add("DTSTAMP", _seconds(event.revised.astimezone(UTC)))
    component.add("LAST-MODIFIED", _seconds(event.revised.astimezone(UTC)))
    if isinstance(event.when, Timed):
        component.add("DTSTART", _seconds(event.when.start.astimezone(where)))
        component.add("DTEND", _seconds(event.when.end.astimezone(where)))
    else:
        component.add("DTSTART", event.when.first)
        component.add("DTEND", event.when.last + timedelta(days=1))
    component.add("SEQUENCE", event.sequence)
    component.add("STATUS", event.status)
    is_opaque = event.blocks_time and event.status != "CANCELLED"
    component.add("TRANSP", "OPAQUE" if is_opaque else "TRANSPARENT")
    component.add("SUMMARY", clean(event.summary))
    for label, text in (("DESCRIPTION", event.description), ("LOCATION", event.location)):
        if text:
            component.add(label, clean(text))
    if event.url:
        component.add("URL", CONTROL.sub("", event.url).replace("\n", ""))
    return component


def _seconds(moment: datetime) -> datetime:
    return moment.replace(microsecond=0)


def clean(text: str) -> str:
    """Return ``text`` with line breaks as \\n and without control characters."""
    return CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def _with_timezone(text: bytes, events: Sequence[CalendarEvent], where: ZoneInfo) -> bytes:
    """Return the feed with the VTIMEZONE of its local times before the first event."""
    bounds = [_bounds(event.when, where) for event in events]
    if not any(isinstance(event.when, Timed) for event in events) or where.key == "UTC":
        return text
    begin, end = min(start for start, _ in bounds), max(stop for _, stop in bounds)
    block = "\r\n".join(timezone_lines(where, begin, end)).encode() + b"\r\n"
    head, mark, tail = text.partition(b"BEGIN:VEVENT\r\n")
    return head + block + mark + tail


def _bounds(when: Timed | AllDay, where: ZoneInfo) -> tuple[datetime, datetime]:
    if isinstance(when, Timed):
        return when.start.astimezone(UTC), when.end.astimezone(UTC)
    return day_bounds(when.first, when.last, where)
