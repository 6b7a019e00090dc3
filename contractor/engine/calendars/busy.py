"""Busy times out of somebody else's calendar, between two days of the branch's calendar."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from contractor.engine.calendars.outside_events import (
    Note,
    OutsideEvent,
    read_calendar,
    too_large,
)
from contractor.engine.calendars.recurrence import (
    Budget,
    BudgetSpentError,
    RuleNotReadError,
    occurrences,
    read_rule,
)
from contractor.engine.calendars.zones import day_bounds, zone

MOST_BUSY_TIMES = 50_000
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class BusyTime:
    """From ``start`` until just before ``end``, both UTC."""

    start: datetime
    end: datetime
    uid: str
    is_all_day: bool


@dataclass(frozen=True)
class BusyReading:
    """Busy times in order of start, and notes on what was not taken at face value."""

    busy: tuple[BusyTime, ...]
    notes: tuple[Note, ...]

    def merged(self) -> tuple[tuple[datetime, datetime], ...]:
        """Return the busy times as intervals that neither overlap nor touch."""
        merged: list[tuple[datetime, datetime]] = []
        for one in self.busy:
            if merged and one.start <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(merged[-1][1], one.end))
            else:
                merged.append((one.start, one.end))
        return tuple(merged)


def read_busy(text: str, *, zone_name: str, first: date, last: date) -> BusyReading:
    """Return when iCalendar ``text`` is busy from ``first`` to ``last`` inclusive.

    ``zone_name`` is the branch's zone: of floating times, whole days and the two dates.
    Cancelled and transparent events are free; tentative ones are busy. InputError where the
    text cannot be read at all.
    """
    branch = zone(zone_name)
    calendar = read_calendar(text, branch)
    begin, end = day_bounds(first, last, branch)
    notes = list(calendar.notes)
    budget = Budget()
    found = [BusyTime(start, stop, uid, is_all_day=False) for uid, start, stop in calendar.periods]
    try:
        for series in _series(calendar.events):
            found += _busy_of(series, begin, end, notes, budget)
            if len(found) > MOST_BUSY_TIMES:
                raise BudgetSpentError("too many busy times")
    except BudgetSpentError as error:
        raise too_large("Its recurring events go on for too long.") from error
    inside = {one for one in found if one.start < end and one.end > begin}
    ordered = sorted(inside, key=lambda one: (one.start, one.end, one.uid))
    return BusyReading(tuple(ordered), tuple(notes))


@dataclass(frozen=True)
class _Series:
    """An event and the changed instances of it, by the instant they replace."""

    main: OutsideEvent | None
    changed: dict[datetime, OutsideEvent]


def _series(events: tuple[OutsideEvent, ...]) -> Iterator[_Series]:
    """Yield the events by UID; of several revisions the last counts (RFC 5546, 2.1.5)."""
    by_uid: dict[str, dict[datetime | None, OutsideEvent]] = {}
    for number, event in enumerate(events):
        revisions = by_uid.setdefault(event.uid or f"no uid {number}", {})
        known = revisions.get(event.recurrence_id)
        if known is None or (event.sequence, event.stamp) >= (known.sequence, known.stamp):
            revisions[event.recurrence_id] = event
    for revisions in by_uid.values():
        changed = {at: event for at, event in revisions.items() if at is not None}
        yield _Series(revisions.get(None), changed)


def _busy_of(
    series: _Series, begin: datetime, end: datetime, notes: list[Note], budget: Budget
) -> Iterator[BusyTime]:
    for changed in series.changed.values():
        yield from _busy_time(changed, changed.start)
    event = series.main
    if event is None or not event.blocks_time:
        return
    for local in _starts(event, begin, end, notes, budget):
        instant = event.instant(local)
        if instant not in series.changed and instant not in event.excluded:
            yield from _busy_time(event, local)


def _busy_time(event: OutsideEvent, local: datetime) -> Iterator[BusyTime]:
    start, stop = event.instant(local), event.length.end(local, event.where)
    if event.blocks_time and stop > start:
        yield BusyTime(start, stop, event.uid, event.is_all_day)


def _starts(
    event: OutsideEvent, begin: datetime, end: datetime, notes: list[Note], budget: Budget
) -> Iterator[datetime]:
    """Yield the wall-clock starts of ``event`` that may reach into the wanted time."""
    yield event.start
    yield from (at.astimezone(event.where).replace(tzinfo=None) for at in event.extra)
    # A day more on both sides: the event's zone is not the branch's.
    reach = event.length.exact + timedelta(days=event.length.days) + 2 * ONE_DAY
    first, last = (begin - reach).date(), (end + 2 * ONE_DAY).date()
    for text in event.rules:
        try:
            rule = read_rule(text)
        except RuleNotReadError as error:
            why = f"Only the first time is taken, the rule {text} is not expanded: {error}."
            notes.append(Note("rule_not_read", event.uid, why))
            continue
        yield from occurrences(
            event.start,
            rule,
            first=first,
            last=last,
            to_utc=lambda local: _instant_or_none(event, local),
            budget=budget,
        )


def _instant_or_none(event: OutsideEvent, local: datetime) -> datetime | None:
    """Return the instant of ``local``; None where the clocks of the event jump over it."""
    instant = event.instant(local)
    shown = instant.astimezone(event.where).replace(tzinfo=None)
    return instant if shown == local or event.is_all_day else None
