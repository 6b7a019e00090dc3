"""When a message may leave: a window of wall-clock time at the homeowner's place.

47 CFR 64.1200(c)(1): no telephone solicitation before 8 a.m. or after 9 p.m., local time at
the called party's location. Whether a reminder is a solicitation is for counsel; the window is
kept anyway. 21:00 itself counts as closed here, one minute stricter than the rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from contractor.engine.calendars.zones import first_instant_from, require_aware, zone
from contractor.engine.errors import InputError

LOOK_AHEAD_DAYS = 60
NO_DAYS: frozenset[date] = frozenset()


@dataclass(frozen=True)
class SendingWindow:
    """Messages leave from ``opens`` until just before ``closes``, whole minutes, local time.

    ``closed_weekdays`` counts Monday as 0. InputError ``bad_window`` unless opens < closes.
    """

    opens: time = time(8)
    closes: time = time(21)
    closed_weekdays: frozenset[int] = frozenset()
    source: str = "47 CFR 64.1200(c)(1)"

    def __post_init__(self) -> None:
        is_whole = not any(t.second or t.microsecond for t in (self.opens, self.closes))
        if not is_whole or self.opens >= self.closes or len(self.closed_weekdays) > 6:
            raise InputError(
                "bad_window",
                "/quiet_hours",
                f"{self.opens} to {self.closes} leaves no time to send.",
                "Give whole minutes with the opening before the closing, one weekday open.",
            )


FEDERAL = SendingWindow()


def is_allowed(
    at: datetime,
    zone_name: str,
    window: SendingWindow = FEDERAL,
    holidays: AbstractSet[date] = NO_DAYS,
) -> bool:
    """Whether a message may leave at the instant ``at`` to somebody in ``zone_name``.

    ``holidays`` are local dates on which nothing is sent (federal holidays, where a company
    wants it so).
    """
    return _is_open(require_aware(at, "/at").astimezone(zone(zone_name)), window, holidays)


def next_allowed(
    at: datetime,
    zone_name: str,
    window: SendingWindow = FEDERAL,
    holidays: AbstractSet[date] = NO_DAYS,
) -> datetime:
    """Return the first UTC instant from ``at`` on at which ``is_allowed``.

    InputError ``no_sending_time`` when the next 60 days hold none.
    """
    where = zone(zone_name)
    moment = require_aware(at, "/at").astimezone(UTC)
    for _ in range(LOOK_AHEAD_DAYS):
        found = _first_on_its_day(moment, where, window, holidays)
        if found is not None:
            return found
        tomorrow = moment.astimezone(where).date() + timedelta(days=1)
        moment = first_instant_from(tomorrow, time(0), where)
    raise InputError(
        "no_sending_time",
        "/quiet_hours",
        f"No day within {LOOK_AHEAD_DAYS} days is open for messages.",
        "Open a weekday or take holidays out of the list.",
    )


def next_allowed_everywhere(
    at: datetime,
    zone_names: Sequence[str],
    window: SendingWindow = FEDERAL,
    holidays: AbstractSet[date] = NO_DAYS,
) -> datetime:
    """Return the first instant that is allowed in all ``zone_names``.

    For a homeowner whose zone is not known: every zone of the state, or of the country.
    """
    moment = require_aware(at, "/at").astimezone(UTC)
    for _ in range(LOOK_AHEAD_DAYS * max(len(zone_names), 1)):
        latest = max(next_allowed(moment, name, window, holidays) for name in zone_names)
        if latest == moment:
            return moment
        moment = latest
    raise InputError(
        "no_sending_time",
        "/quiet_hours",
        f"No instant is open in all of {', '.join(zone_names)}.",
        "Ask the homeowner for the time zone.",
    )


def _is_open(local: datetime, window: SendingWindow, holidays: AbstractSet[date]) -> bool:
    day = local.date()
    if day in holidays or day.weekday() in window.closed_weekdays:
        return False
    return window.opens <= local.time() < window.closes


def _first_on_its_day(
    moment: datetime, where: ZoneInfo, window: SendingWindow, holidays: AbstractSet[date]
) -> datetime | None:
    """Return the first open instant from ``moment`` on within its local day, if there is one."""
    local = moment.astimezone(where)
    if _is_open(local, window, holidays):
        return moment
    day = local.date()
    midnight = first_instant_from(day + timedelta(days=1), time(0), where)
    if local.utcoffset() != midnight.astimezone(where).utcoffset():
        # Clocks change today: an hour is skipped or comes twice, so look at each minute.
        return _scan(moment, midnight, where, window, holidays)
    opening = first_instant_from(day, window.opens, where)
    is_open = opening >= moment and _is_open(opening.astimezone(where), window, holidays)
    return opening if is_open else None


def _scan(
    moment: datetime,
    end: datetime,
    where: ZoneInfo,
    window: SendingWindow,
    holidays: AbstractSet[date],
) -> datetime | None:
    minute = moment.replace(second=0, microsecond=0) + timedelta(minutes=1)
    while minute < end:
        if _is_open(minute.astimezone(where), window, holidays):
            return minute
        minute += timedelta(minutes=1)
    return None
