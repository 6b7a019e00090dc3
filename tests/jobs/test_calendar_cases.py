"""When a message may leave, case by case, with the text of law or RFC that gives the answer.

Quoted from memory where a clause is not a date of the calendar itself; a company's counsel
decides what applies to its messages.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Any

import pytest

from contractor.api.models import Branch, Company
from contractor.engine.calendars.holiday_proposals import federal_holidays
from contractor.engine.errors import InputError
from contractor.engine.followup.due_dates import add_months
from contractor.engine.followup.quiet_hours import SendingWindow, next_allowed
from jobs.models import Site
from jobs.services import followup, hours

HOLIDAYS = {"quiet_on_federal_holidays": True}
HOURS_RULE = "47 CFR 64.1200(c)(1): before 8 a.m. or after 9 p.m., called party's location"
SPRING = "15 U.S.C. 260a(a): from 2 a.m. on the second Sunday of March"
AUTUMN = "15 U.S.C. 260a(a): until 2 a.m. on the first Sunday of November"
NEW_YORK, CHICAGO = "America/New_York", "America/Chicago"
DENVER, LOS_ANGELES = "America/Denver", "America/Los_Angeles"


@dataclass(frozen=True)
class Case:
    """Asked at ``at``, a message to ``zone`` leaves at ``leaves`` (UTC both)."""

    name: str
    source: str
    zone: str
    at: str
    leaves: str
    wishes: dict[str, Any] = field(default_factory=dict)


CASES = [
    Case("one second before eight", HOURS_RULE, NEW_YORK, "2026-01-15T12:59:59",
         "2026-01-15T13:00"),
    Case("eight sharp", HOURS_RULE, NEW_YORK, "2026-01-15T13:00", "2026-01-15T13:00"),
    Case("two minutes to nine", HOURS_RULE, NEW_YORK, "2026-01-16T01:58", "2026-01-16T01:58"),
    Case("nine in the evening", HOURS_RULE, NEW_YORK, "2026-01-16T02:00", "2026-01-16T13:00"),
    Case("too late to end by nine", HOURS_RULE, NEW_YORK, "2026-01-16T01:59:30",
         "2026-01-16T13:00"),
    Case("ten in New York, seven there", HOURS_RULE, LOS_ANGELES, "2026-01-15T15:00",
         "2026-01-15T16:00"),
    Case("night of ten hours, east", SPRING, NEW_YORK, "2026-03-08T02:00", "2026-03-08T12:00"),
    Case("night of ten hours, centre", SPRING, CHICAGO, "2026-03-08T03:00", "2026-03-08T13:00"),
    Case("night of ten hours, mountains", SPRING, DENVER, "2026-03-08T04:00", "2026-03-08T14:00"),
    Case("night of ten hours, west", SPRING, LOS_ANGELES, "2026-03-08T05:00", "2026-03-08T15:00"),
    Case("night of twelve hours, east", AUTUMN, NEW_YORK, "2026-11-01T01:00", "2026-11-01T13:00"),
    Case("night of twelve hours, west", AUTUMN, LOS_ANGELES, "2026-11-01T04:00",
         "2026-11-01T16:00"),
    Case("the Saturday before is still winter", SPRING, NEW_YORK, "2026-03-07T05:00",
         "2026-03-07T13:00"),
    Case("no daylight time", "15 U.S.C. 260a(a)(1) exemption; Ariz. Rev. Stat. 1-242",
         "America/Phoenix", "2026-07-15T14:00", "2026-07-15T15:00"),
    Case("no daylight time, islands", "15 U.S.C. 260a(a)(1) exemption; Haw. Rev. Stat. 1-31",
         "Pacific/Honolulu", "2026-07-15T14:00", "2026-07-15T18:00"),
    Case("fourth Thursday of November", "5 U.S.C. 6103(a), Thanksgiving Day", CHICAGO,
         "2026-11-26T15:00", "2026-11-27T14:00", HOLIDAYS),
    Case("holidays are the company's choice", "5 U.S.C. 6103(a) binds agencies", CHICAGO,
         "2026-11-26T15:00", "2026-11-26T15:00"),
    Case("still the holiday out there", "5 U.S.C. 6103(a), local date", "Pacific/Honolulu",
         "2026-11-27T06:00", "2026-11-27T18:00", HOLIDAYS),
    Case("holiday on a Saturday: Friday off", "5 U.S.C. 6103(b)(1); 4 July 2026", NEW_YORK,
         "2026-07-03T15:00", "2026-07-05T12:00", HOLIDAYS),
    Case("holiday on a Sunday: Monday off", "E.O. 11582 sec. 3(a); 4 July 2027", NEW_YORK,
         "2027-07-05T15:00", "2027-07-06T12:00", HOLIDAYS),
    Case("19 June", "5 U.S.C. 6103(a) as amended by Pub. L. 117-17", NEW_YORK,
         "2026-06-19T15:00", "2026-06-20T12:00", HOLIDAYS),
    Case("third Monday of January", "5 U.S.C. 6103(a), Birthday of Martin Luther King, Jr.",
         DENVER, "2026-01-19T17:00", "2026-01-20T15:00", HOLIDAYS),
]  # fmt: skip


def instant(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def site_in(zone: str, wishes: dict[str, Any], state: str = "") -> Site:
    company = Company(name="Plumb Line Basements", settings={"sending": wishes})
    return Site(branch=Branch(company=company), time_zone=zone, state=state)


@pytest.mark.parametrize("case", CASES, ids=lambda one: one.name)
def test_message_leaves_at_the_first_hour_that_the_text_allows(case: Case) -> None:
    site = site_in(case.zone, case.wishes)
    assert hours.next_leave(site, instant(case.at)) == instant(case.leaves), case.source
    assert hours.may_leave(site, instant(case.leaves))


def test_local_time_that_comes_twice_is_the_first() -> None:
    """RFC 5545, 3.3.5: 20071104T013000 in New York is "November 4, 2007 at 1:30 A.M. EDT"."""
    window = SendingWindow(time(1, 30), time(2))
    assert next_allowed(instant("2007-11-04T04:00"), NEW_YORK, window) == instant(
        "2007-11-04T05:30"
    )


@pytest.mark.parametrize(
    ("start", "months", "expected"),
    [(date(1999, 11, 30), 3, date(2000, 2, 29)), (date(2099, 11, 30), 3, date(2100, 2, 28))],
)
def test_leap_years(start: date, months: int, expected: date) -> None:
    """RFC 3339, appendix C: a century is a leap year where 400 divides it."""
    assert add_months(start, months) == expected


def test_instant_without_offset_is_refused() -> None:
    """RFC 3339, 4.4: unqualified local time is no instant."""
    with pytest.raises(InputError):
        next_allowed(datetime(2026, 1, 15, 12), NEW_YORK)  # noqa: DTZ001 - that is the point


def test_inauguration_day_is_no_holiday_for_everybody() -> None:
    """5 U.S.C. 6103(c): for employees in and around the District of Columbia only."""
    assert date(2025, 1, 20) in federal_holidays(2025, 2025)  # the third Monday as well
    assert date(2021, 1, 20) not in federal_holidays(2021, 2021)


@pytest.mark.parametrize(
    ("due", "leaves"),
    [
        (date(2026, 3, 7), "2026-03-07T15:00"),  # 10:00 EST
        (date(2026, 3, 8), "2026-03-08T14:00"),  # 10:00 EDT, the day clocks change
        (date(2026, 10, 31), "2026-10-31T14:00"),
        (date(2026, 11, 1), "2026-11-01T15:00"),
    ],
)
def test_a_due_date_is_ten_in_the_morning_there(due: date, leaves: str) -> None:
    """15 U.S.C. 260a(a) again; the hour itself is common practice."""
    assert followup.first_instant(site_in(NEW_YORK, {}), due) == instant(leaves)


def test_the_companys_own_window_never_leaves_the_federal_one() -> None:
    """47 CFR 64.1200(c)(1), whatever a company writes."""
    wishes = {"windows": {"OH": {"opens": "06:00", "closes": "23:00"}}}
    window = hours.window_of(site_in(NEW_YORK, wishes, state="OH"))
    assert (window.opens.hour, window.closes.hour) == (8, 21)
