"""Somebody else's calendar of a member, read as half-days away."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from contractor.api import events
from contractor.api.transactions import service
from contractor.crews import locks
from contractor.crews.hours import HALF_DAY_HOURS
from contractor.crews.models import Absence, Member
from contractor.engine.calendars.busy import read_busy
from contractor.errors import InvalidValueError

MOST_DAYS = 400
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Away:
    """First to last day, both included; ``half`` "" means the whole days."""

    first: date
    last: date
    half: str


@dataclass(frozen=True)
class BusyDays:
    """What an outside calendar takes of somebody's half-days, and what was not read of it."""

    first: date
    last: date
    away: tuple[Away, ...]
    notes: tuple[str, ...]


def busy_days(text: str, *, zone_name: str, first: date, last: date) -> BusyDays:
    """Return the half-days of which iCalendar ``text`` takes any minute. Raises InputError.

    Free, cancelled and transparent events take nothing; evenings and the noon break neither.
    """
    if not first <= last or (last - first).days > MOST_DAYS:
        raise InvalidValueError(
            f"A calendar is read for at most {MOST_DAYS} days.", remedy="Ask for fewer days."
        )
    reading = read_busy(text, zone_name=zone_name, first=first, last=last)
    zone = ZoneInfo(zone_name)
    taken: set[tuple[date, str]] = set()
    for start, end in reading.merged():
        taken |= _halves(start.astimezone(zone), end.astimezone(zone), first, last)
    notes = tuple(f"{note.code}: {note.text}" for note in reading.notes)
    return BusyDays(first, last, _joined(taken), notes)


def _halves(start: datetime, end: datetime, first: date, last: date) -> set[tuple[date, str]]:
    """Return the half-days between two instants of the branch's wall clock."""
    found = set()
    day = max(start.date(), first)
    while day <= min(end.date(), last):
        for half, (opens, closes) in HALF_DAY_HOURS.items():
            begins = datetime.combine(day, opens, tzinfo=start.tzinfo)
            ends = datetime.combine(day, closes, tzinfo=start.tzinfo)
            if start < ends and end > begins:
                found.add((day, half))
        day += ONE_DAY
    return found


def _joined(taken: set[tuple[date, str]]) -> tuple[Away, ...]:
    """Return whole days in a row as one absence each, and half-days by themselves."""
    days = sorted({day for day, _ in taken})
    found: list[Away] = []
    for day in days:
        halves = [half for half in HALF_DAY_HOURS if (day, half) in taken]
        if len(halves) == 1:
            found.append(Away(day, day, halves[0]))
        elif found and found[-1].half == "" and found[-1].last == day - ONE_DAY:
            found[-1] = Away(found[-1].first, day, "")
        else:
            found.append(Away(day, day, ""))
    return tuple(found)


def import_busy(
    member_pk: int, ics_text: str, *, source: str, first: date, last: date
) -> list[Absence]:
    """Read a member's outside calendar and keep its busy times as absences.

    What came from the same ``source`` before is replaced. Not a service: it reads the text,
    then calls one.
    """
    member = Member.objects.select_related("branch").get(pk=member_pk)
    zone_name = member.branch.time_zone
    days = busy_days(ics_text, zone_name=zone_name, first=first, last=last)
    return keep_busy(member_pk, source=source, days=days)


@service
def keep_busy(member_pk: int, *, source: str, days: BusyDays) -> list[Absence]:
    """Replace the absences that came from ``source`` and reach into these days."""
    member = locks.lock_member(member_pk)
    if not source:
        raise InvalidValueError("The calendar has no name.", remedy="Give it a source.")
    old = Absence.objects.filter(member=member, source=source)
    for absence in old.filter(last__gte=days.first, first__lte=days.last).order_by("pk"):
        absence.delete()
    rows = [
        Absence.objects.create(
            branch=member.branch,
            member=member,
            first=one.first,
            last=one.last,
            half=one.half,
            reason="busy",
            source=source,
        )
        for one in days.away
    ]
    events.record("member.busy_read", member, branch=member.branch, absences=len(rows))
    return rows
