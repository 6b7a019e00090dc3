"""VTIMEZONE of an IANA zone, from its own transitions (RFC 5545, section 3.6.5).

The onset of a sub-component is written in the local time before the change: "DTSTART ... MUST
be interpreted ... using the UTC offset in TZOFFSETFROM". The icalendar library 7.3 writes the
onset of daylight time an hour late, so it is not used here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

STEP = timedelta(days=7)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
# Every zone with regular changes has one within a year; two leave room for a law that moves it.
LOOK_BACK = timedelta(days=2 * 366)


@dataclass(frozen=True)
class Change:
    """At UTC ``at`` clocks go from ``before`` to ``after`` (UTC offsets)."""

    at: datetime
    before: timedelta
    after: timedelta
    name: str
    is_daylight: bool


def offset_changes(where: ZoneInfo, begin: datetime, end: datetime) -> Iterator[Change]:
    """Yield the changes of offset or name of ``where`` in the UTC time (begin, end]."""
    moment = begin
    while moment < end:
        later = min(moment + STEP, end)
        if _state(where, moment) != _state(where, later):
            at = _onset(where, moment, later)
            shown = at.astimezone(where)
            yield Change(
                at=at,
                before=_offset(where, at - timedelta(seconds=1)),
                after=_offset(where, at),
                name=shown.tzname() or "",
                is_daylight=bool(shown.dst()),
            )
            moment = at
        else:
            moment = later


def _state(where: ZoneInfo, moment: datetime) -> tuple[timedelta, str | None, bool]:
    shown = moment.astimezone(where)
    return _offset(where, moment), shown.tzname(), bool(shown.dst())


def _offset(where: ZoneInfo, moment: datetime) -> timedelta:
    return moment.astimezone(where).utcoffset() or timedelta(0)


def _onset(where: ZoneInfo, before: datetime, after: datetime) -> datetime:
    """Return the first whole second after ``before`` at which the state has changed."""
    old = _state(where, before)
    low, high = 0, int((after - before).total_seconds())
    while high - low > 1:
        middle = (low + high) // 2
        if _state(where, before + timedelta(seconds=middle)) == old:
            low = middle
        else:
            high = middle
    return before + timedelta(seconds=high)


def timezone_lines(where: ZoneInfo, begin: datetime, end: datetime) -> list[str]:
    """Return the lines of a VTIMEZONE that holds from ``begin`` to ``end`` (UTC)."""
    start = begin.replace(microsecond=0) - LOOK_BACK
    changes = list(offset_changes(where, start, end + timedelta(days=366)))
    if not changes or changes[0].at > begin:
        shown = start.astimezone(where)
        offset = _offset(where, start)
        changes.insert(0, Change(EPOCH, offset, offset, shown.tzname() or "", bool(shown.dst())))
    lines = ["BEGIN:VTIMEZONE", f"TZID:{where.key}"]
    for change in changes:
        lines += _observance(change)
    return [*lines, "END:VTIMEZONE"]


def _observance(change: Change) -> list[str]:
    kind = "DAYLIGHT" if change.is_daylight else "STANDARD"
    onset = (change.at + change.before).strftime("%Y%m%dT%H%M%S")
    return [
        f"BEGIN:{kind}",
        f"DTSTART:{onset}",
        f"TZOFFSETFROM:{_offset_text(change.before)}",
        f"TZOFFSETTO:{_offset_text(change.after)}",
        f"TZNAME:{change.name}",
        f"END:{kind}",
    ]


def _offset_text(offset: timedelta) -> str:
    seconds = int(offset.total_seconds())
    sign = "-" if seconds < 0 else "+"
    hours, rest = divmod(abs(seconds), 3600)
    minutes, rest = divmod(rest, 60)
    return f"{sign}{hours:02}{minutes:02}" + (f"{rest:02}" if rest else "")
