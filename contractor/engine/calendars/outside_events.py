"""Events of somebody else's calendar, as plain values: what they block and when.

Traps taken care of: a floating time means the branch's zone; so does a TZID that nobody
defines (with a note); ``DURATION:PT24H`` is 24 hours but ``P1D`` the same wall-clock time next
day (RFC 5545, 3.3.6), which is why the duration is read from the raw line: the library turns
both into one timedelta.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Any
from zoneinfo import ZoneInfo

from contractor.engine.errors import InputError

MOST_BYTES = 4_000_000
MOST_EVENTS = 20_000
# What damaged text makes the library raise; OSError where a TZID names a folder of zones.
UNREADABLE = (
    ValueError,
    KeyError,
    IndexError,
    TypeError,
    AttributeError,
    OverflowError,
    OSError,
)
RAW_DURATION = "X-RAW-DURATION"
DURATION = re.compile(
    r"([-+]?)P(?:(\d{1,5})W)?(?:(\d{1,6})D)?"
    r"(?:T(?:(\d{1,7})H)?(?:(\d{1,7})M)?(?:(\d{1,9})S)?)?\Z"
)


@dataclass(frozen=True)
class Note:
    """Something of an outside calendar that was not taken at face value."""

    code: str
    uid: str
    text: str


@dataclass(frozen=True)
class Length:
    """How long an event lasts: whole days on the wall clock first, then exact time."""

    days: int
    exact: timedelta

    def end(self, start: datetime, where: tzinfo) -> datetime:
        """Return the UTC end of what starts at the naive wall-clock time ``start``."""
        nominal = (start + timedelta(days=self.days)).replace(tzinfo=where)
        return nominal.astimezone(UTC) + self.exact


@dataclass(frozen=True)
class OutsideEvent:
    """One VEVENT. ``start`` is the naive wall-clock time in ``where``; 00:00 when all-day.

    ``recurrence_id`` (UTC) is set on one changed instance of a recurring event.
    """

    uid: str
    start: datetime
    where: tzinfo
    length: Length
    is_all_day: bool
    blocks_time: bool
    sequence: int
    stamp: datetime
    recurrence_id: datetime | None
    rules: tuple[str, ...]
    extra: tuple[datetime, ...]
    excluded: tuple[datetime, ...]

    def instant(self, local: datetime) -> datetime:
        """Return the UTC instant of a wall-clock time of this event."""
        return local.replace(tzinfo=self.where).astimezone(UTC)


@dataclass(frozen=True)
class OutsideCalendar:
    events: tuple[OutsideEvent, ...]
    periods: tuple[tuple[str, datetime, datetime], ...]
    notes: tuple[Note, ...]


class _SkipEvent(ValueError):
    """This event cannot be used; ``code`` says why."""

    def __init__(self, code: str, text: str) -> None:
        super().__init__(text)
        self.code = code


def read_calendar(text: str, branch_zone: ZoneInfo) -> OutsideCalendar:
    """Return the events and busy periods of iCalendar ``text``.

    InputError ``calendar_unreadable`` or ``calendar_too_large`` where there is no reading it.
    """
    if len(text.encode()) > MOST_BYTES:
        raise too_large(f"It is larger than {MOST_BYTES // 1_000_000} MB.")
    calendars = _parsed(text)
    components = [part for calendar in calendars for part in calendar.walk("VEVENT")]
    if len(components) > MOST_EVENTS:
        raise too_large(f"It has more than {MOST_EVENTS} events.")
    called_off = {
        id(part)
        for calendar in calendars
        if str(calendar.get("METHOD", "")).upper() == "CANCEL"
        for part in calendar.walk("VEVENT")
    }
    events: list[OutsideEvent] = []
    notes: list[Note] = []
    for component in components:
        uid = str(component.get("UID", ""))
        try:
            reader = _EventReader(component, branch_zone, notes, uid)
            events.append(reader.event(is_called_off=id(component) in called_off))
        except _SkipEvent as error:
            notes.append(Note(error.code, uid, str(error)))
    return OutsideCalendar(tuple(events), tuple(_busy_periods(calendars)), tuple(notes))


def too_large(reason: str) -> InputError:
    return InputError("calendar_too_large", "/", reason, "Share a calendar with fewer events.")


def _parsed(text: str) -> list[Any]:
    from icalendar import Calendar

    try:
        calendars = Calendar.from_ical(_with_raw_durations(text), multiple=True)
    except UNREADABLE as error:
        raise InputError(
            "calendar_unreadable",
            "/",
            "The text is no iCalendar object (RFC 5545).",
            "Send what starts with BEGIN:VCALENDAR.",
        ) from error
    if not calendars or any(calendar.name != "VCALENDAR" for calendar in calendars):
        raise InputError(
            "calendar_unreadable", "/", "There is no VCALENDAR in it.", "Send an .ics file."
        )
    return list(calendars)


def _with_raw_durations(text: str) -> str:
    """Return ``text`` unfolded, each DURATION followed by its text as a property of its own."""
    from icalendar.parser import Contentlines

    lines: list[str] = []
    for line in Contentlines.from_ical(text):  # type: ignore[no-untyped-call]
        lines.append(line)
        if re.match(r"DURATION[;:]", line, re.IGNORECASE):
            lines.append(f"{RAW_DURATION}:{line.rpartition(':')[2].strip().upper()}")
    return "\r\n".join(lines)


def _busy_periods(calendars: list[Any]) -> list[tuple[str, datetime, datetime]]:
    """Return the busy periods of VFREEBUSY components; they are in UTC (RFC 5545, 3.8.2.6)."""
    found = []
    for part in (part for calendar in calendars for part in calendar.walk("VFREEBUSY")):
        values = part.get("FREEBUSY", [])
        for period in values if isinstance(values, list) else [values]:
            kind = str(getattr(period, "params", {}).get("FBTYPE", "BUSY")).upper()
            start, end = getattr(period, "start", None), getattr(period, "end", None)
            if kind == "FREE" or not isinstance(start, datetime) or not isinstance(end, datetime):
                continue
            if start.tzinfo is None or end.tzinfo is None or end <= start:
                continue
            found.append((str(part.get("UID", "")), start.astimezone(UTC), end.astimezone(UTC)))
    return found


class _EventReader:
    """Reads one VEVENT component of the icalendar library."""

    def __init__(self, component: Any, branch: ZoneInfo, notes: list[Note], uid: str) -> None:
        self.component = component
        self.branch = branch
        self.notes = notes
        self.uid = uid

    def event(self, *, is_called_off: bool) -> OutsideEvent:
        for name, reason in self.component.errors:
            if name in ("DTSTART", "DTEND", "DURATION", "RECURRENCE-ID"):
                raise _SkipEvent("event_unreadable", f"{name}: {reason}")
        value = self._value("DTSTART")
        if value is None:
            raise _SkipEvent("event_unreadable", "An event without DTSTART.")
        is_all_day = not isinstance(value, datetime)
        start, where = self._local(value, "DTSTART")
        self._note_range()
        status = str(self.component.get("STATUS", "")).upper()
        is_transparent = str(self.component.get("TRANSP", "")).upper() == "TRANSPARENT"
        stamp = self._value("DTSTAMP")
        is_stamp = isinstance(stamp, datetime) and stamp.tzinfo is not None
        return OutsideEvent(
            uid=self.uid,
            start=start,
            where=where,
            length=self._length(start, where, is_all_day=is_all_day),
            is_all_day=is_all_day,
            blocks_time=status != "CANCELLED" and not is_transparent and not is_called_off,
            sequence=self._sequence(),
            stamp=stamp if is_stamp else datetime.min.replace(tzinfo=UTC),
            recurrence_id=self._instant("RECURRENCE-ID", where),
            rules=tuple(rule.to_ical().decode() for rule in self._all("RRULE")),
            extra=self._dates("RDATE", where),
            excluded=self._dates("EXDATE", where),
        )

    def _note_range(self) -> None:
        changed = self.component.get("RECURRENCE-ID")
        if getattr(changed, "params", {}).get("RANGE"):
            text = "A change of this and all future times is taken as a change of this one."
            self.notes.append(Note("range_not_read", self.uid, text))

    def _all(self, name: str) -> list[Any]:
        found = self.component.get(name, [])
        return found if isinstance(found, list) else [found]

    def _sequence(self) -> int:
        value = self.component.get("SEQUENCE", 0)
        return int(value) if isinstance(value, int) else 0

    def _value(self, name: str) -> Any:
        found = self._all(name)
        if len(found) > 1:
            raise _SkipEvent("event_unreadable", f"{name} is given twice.")
        return _member(found[0], "dt") if found else None

    def _local(self, value: Any, name: str) -> tuple[datetime, tzinfo]:
        """Return the wall-clock time of ``value`` and its zone, the branch's when floating."""
        if not isinstance(value, date):
            raise _SkipEvent("event_unreadable", f"{name} is no date.")
        if not isinstance(value, datetime):
            return datetime.combine(value, time(0)), self.branch
        if value.tzinfo is not None:
            return value.replace(tzinfo=None), value.tzinfo
        zone_name = getattr(self.component.get(name), "params", {}).get("TZID")
        if zone_name:
            text = f"Nothing defines the zone {zone_name!r}: taken as {self.branch.key}."
            self.notes.append(Note("zone_unknown", self.uid, text))
        return value, self.branch

    def _instant(self, name: str, where: tzinfo) -> datetime | None:
        value = self._value(name)
        return None if value is None else self._to_utc(value, where)

    def _to_utc(self, value: Any, where: tzinfo) -> datetime:
        if isinstance(value, tuple):
            value = value[0]
        if not isinstance(value, datetime):
            return datetime.combine(value, time(0), where).astimezone(UTC)
        return (value if value.tzinfo else value.replace(tzinfo=where)).astimezone(UTC)

    def _dates(self, name: str, where: tzinfo) -> tuple[datetime, ...]:
        lists = [_member(found, "dts") or [] for found in self._all(name)]
        return tuple(self._to_utc(item.dt, where) for dates in lists for item in dates)

    def _length(self, start: datetime, where: tzinfo, *, is_all_day: bool) -> Length:
        end_value = self._value("DTEND")
        if end_value is None:
            durations = self._all(RAW_DURATION)
            if durations:
                return _duration(str(durations[0]))
            # RFC 5545, 3.6.1: a DATE lasts its day, a DATE-TIME ends when it starts.
            return Length(1 if is_all_day else 0, timedelta(0))
        end, end_zone = self._local(end_value, "DTEND")
        if isinstance(end_value, datetime) == is_all_day:
            raise _SkipEvent("event_unreadable", "DTSTART and DTEND are of different kinds.")
        if is_all_day:
            return self._days((end - start).days)
        exact = end.replace(tzinfo=end_zone).astimezone(UTC) - start.replace(
            tzinfo=where
        ).astimezone(UTC)
        if exact < timedelta(0):
            raise _SkipEvent("event_unreadable", "DTEND is before DTSTART.")
        return Length(0, exact)

    def _days(self, days: int) -> Length:
        if days < 0:
            raise _SkipEvent("event_unreadable", "DTEND is before DTSTART.")
        if days == 0:
            text = "DTEND is exclusive, so DTEND = DTSTART is no day: taken as that one day."
            self.notes.append(Note("empty_day", self.uid, text))
        return Length(max(days, 1), timedelta(0))


def _member(value: Any, name: str) -> Any:
    """Return a member of a property value; None where the library could not read the value."""
    from icalendar.error import BrokenCalendarProperty

    try:
        return getattr(value, name, None)
    except BrokenCalendarProperty:
        return None


def _duration(text: str) -> Length:
    match = DURATION.match(text)
    if match is None or match[1] == "-":
        raise _SkipEvent("event_unreadable", f"DURATION:{text} is no length.")
    weeks, days, hours, minutes, seconds = (int(part or 0) for part in match.groups()[1:])
    return Length(weeks * 7 + days, timedelta(hours=hours, minutes=minutes, seconds=seconds))
