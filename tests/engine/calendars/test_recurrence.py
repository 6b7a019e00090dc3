"""Recurrence rules against the examples of RFC 5545 section 3.8.5.3 and against dateutil."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from dateutil.rrule import rrulestr  # type: ignore[import-untyped]
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from contractor.engine.calendars.recurrence import (
    Budget,
    BudgetSpentError,
    RuleNotReadError,
    occurrences,
    read_rule,
)
from contractor.engine.calendars.zones import is_in_gap, local_to_utc, zone

NEW_YORK = zone("America/New_York")


def to_utc(local: datetime) -> datetime | None:
    return None if is_in_gap(local, NEW_YORK) else local_to_utc(local, NEW_YORK)


def starts(
    start: str, rule: str, last: str = "2100-01-01", first: str = "1990-01-01"
) -> list[datetime]:
    return list(
        occurrences(
            datetime.fromisoformat(start),
            read_rule(rule),
            first=date.fromisoformat(first),
            last=date.fromisoformat(last),
            to_utc=to_utc,
            budget=Budget(),
        )
    )


def days(found: list[datetime]) -> list[str]:
    return [one.strftime("%Y-%m-%d") for one in found]


# All: RFC 5545, 3.8.5.3, "Examples", DTSTART;TZID=America/New_York:19970902T090000 unless said.
RFC_EXAMPLES = [
    ("19970902", "FREQ=DAILY;COUNT=10", [f"1997-09-{d:02}" for d in range(2, 12)]),
    (
        "19970902",
        "FREQ=DAILY;INTERVAL=10;COUNT=5",
        ["1997-09-02", "1997-09-12", "1997-09-22", "1997-10-02", "1997-10-12"],
    ),
    (
        "19970902",
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        [f"1997-09-{d:02}" for d in (2, 4, 9, 11, 16, 18, 23, 25, 30)] + ["1997-10-02"],
    ),
    (
        "19970902",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
        [
            "1997-09-02",
            "1997-09-04",
            "1997-09-16",
            "1997-09-18",
            "1997-09-30",
            "1997-10-02",
            "1997-10-14",
            "1997-10-16",
        ],
    ),
    (
        "19970905",
        "FREQ=MONTHLY;COUNT=4;BYDAY=1FR",
        ["1997-09-05", "1997-10-03", "1997-11-07", "1997-12-05"],
    ),
    (
        "19970907",
        "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU",
        [
            "1997-09-07",
            "1997-09-28",
            "1997-11-02",
            "1997-11-30",
            "1998-01-04",
            "1998-01-25",
            "1998-03-01",
            "1998-03-29",
            "1998-05-03",
            "1998-05-31",
        ],
    ),
    (
        "19970928",
        "FREQ=MONTHLY;BYMONTHDAY=-3;COUNT=6",
        ["1997-09-28", "1997-10-29", "1997-11-28", "1997-12-29", "1998-01-29", "1998-02-26"],
    ),
    (
        "19970930",
        "FREQ=MONTHLY;COUNT=6;BYMONTHDAY=1,-1",
        ["1997-09-30", "1997-10-01", "1997-10-31", "1997-11-01", "1997-11-30", "1997-12-01"],
    ),
    (
        "19970610",
        "FREQ=YEARLY;COUNT=6;BYMONTH=6,7",
        ["1997-06-10", "1997-07-10", "1998-06-10", "1998-07-10", "1999-06-10", "1999-07-10"],
    ),
    (
        "19970101",
        "FREQ=YEARLY;INTERVAL=3;COUNT=4;BYYEARDAY=1,100,200",
        ["1997-01-01", "1997-04-10", "1997-07-19", "2000-01-01"],
    ),
    (
        "19970519",
        "FREQ=YEARLY;BYDAY=20MO;COUNT=3",
        ["1997-05-19", "1998-05-18", "1999-05-17"],
    ),
    (
        "19970313",
        "FREQ=YEARLY;BYMONTH=3;BYDAY=TH;COUNT=7",
        [
            "1997-03-13",
            "1997-03-20",
            "1997-03-27",
            "1998-03-05",
            "1998-03-12",
            "1998-03-19",
            "1998-03-26",
        ],
    ),
    (
        "19970913",
        "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13;COUNT=4",
        ["1997-09-13", "1997-10-11", "1997-11-08", "1997-12-13"],
    ),
    (
        "19961105",
        "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8;COUNT=3",
        ["1996-11-05", "2000-11-07", "2004-11-02"],
    ),
    (
        "19970904",
        "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
        ["1997-09-04", "1997-10-07", "1997-11-06"],
    ),
    (
        "19970929",
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2;COUNT=4",
        ["1997-09-29", "1997-10-30", "1997-11-27", "1997-12-30"],
    ),
    (
        "19970805",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
        ["1997-08-05", "1997-08-10", "1997-08-19", "1997-08-24"],
    ),
    (
        "19970805",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
        ["1997-08-05", "1997-08-17", "1997-08-19", "1997-08-31"],
    ),
    (
        # "An example where an invalid date (i.e., February 30) is ignored."
        "20070115",
        "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
        ["2007-01-15", "2007-01-30", "2007-02-15", "2007-03-15", "2007-03-30"],
    ),
]


@pytest.mark.parametrize(("start", "rule", "expected"), RFC_EXAMPLES)
def test_examples_of_the_rfc(start: str, rule: str, expected: list[str]) -> None:
    assert days(starts(f"{start}T090000", rule)) == expected


def test_a_rule_keeps_the_wall_clock_over_a_change_of_clocks() -> None:
    """RFC 5545, 3.8.5.3, daily until 24 December 1997: 9:00 AM EDT, then 9:00 AM EST."""
    found = starts("19970902T090000", "FREQ=DAILY;UNTIL=19971224T000000Z")
    assert len(found) == 113
    assert {one.hour for one in found} == {9}
    assert [to_utc(one) for one in found if one.month == 10][-7:] == [
        datetime(1997, 10, 25, 13, tzinfo=UTC),
        *(datetime(1997, 10, day, 14, tzinfo=UTC) for day in range(26, 32)),
    ]


def test_a_time_that_clocks_jump_over_is_ignored_and_not_counted() -> None:
    """RFC 5545, 3.3.10: such instances 'MUST be ignored and MUST NOT be counted'."""
    found = starts("20260307T023000", "FREQ=DAILY;COUNT=3")
    assert days(found) == ["2026-03-07", "2026-03-09", "2026-03-10"]


@pytest.mark.parametrize(
    "rule",
    ["FREQ=HOURLY", "FREQ=SECONDLY;COUNT=9", "FREQ=YEARLY;BYWEEKNO=20", "INTERVAL=2", "FREQ",
     "FREQ=DAILY;BYDAY=2MO", "FREQ=DAILY;COUNT=0", "FREQ=DAILY;BYMONTH=13", "FREQ=DAILY;BYMONTH=x",
     "FREQ=DAILY;UNTIL=2026", "FREQ=MONTHLY;BYMONTHDAY=0", "FREQ=DAILY;FREQ=DAILY",
     "FREQ=WEEKLY;BYDAY=XX", "FREQ=DAILY;INTERVAL=0"],
)  # fmt: skip
def test_rules_that_are_not_expanded_are_refused(rule: str) -> None:
    with pytest.raises(RuleNotReadError):
        read_rule(rule)


def test_work_is_bounded() -> None:
    """A rule that never matches costs the days up to the last one, and no more than the budget."""
    never = "FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30;COUNT=5"
    assert days(starts("19970902T090000", never)) == ["1997-09-02"]
    with pytest.raises(BudgetSpentError):
        list(
            occurrences(
                datetime.fromisoformat("0001-01-01T00:00:00"),
                read_rule(never),
                first=date(2026, 1, 1),
                last=date(2026, 2, 1),
                to_utc=to_utc,
                budget=Budget(10_000),
            )
        )


RULES = st.builds(
    lambda freq, parts: ";".join([f"FREQ={freq}", *parts]),
    st.sampled_from(["DAILY", "WEEKLY", "MONTHLY", "YEARLY"]),
    st.lists(
        st.sampled_from(
            ["INTERVAL=2", "INTERVAL=5", "COUNT=7", "COUNT=40", "BYMONTH=2,3,11", "BYDAY=MO,FR",
             "BYMONTHDAY=-1,5,31", "BYHOUR=7,15", "BYMINUTE=0,30", "WKST=SU", "BYSETPOS=1,-1",
             "UNTIL=20270301T120000Z"]
        ),
        max_size=4,
        unique_by=lambda part: part.partition("=")[0],
    ),
)  # fmt: skip


@given(RULES, st.integers(0, 900), st.integers(0, 400))
@settings(max_examples=150, deadline=None)
def test_rules_agree_with_dateutil(rule: str, offset: int, skip: int) -> None:
    """dateutil 2.9, rrule; in UTC, where no clock jumps. DTSTART always counts with us."""
    assume("COUNT" not in rule or "UNTIL" not in rule)
    start = datetime(2025, 1, 1, 9, 0) + timedelta(days=offset)  # noqa: DTZ001
    aware = start.replace(tzinfo=UTC)
    theirs = rrulestr(rule, dtstart=aware)
    assume(next(iter(theirs), None) == aware)
    first, last = start.date() + timedelta(days=skip), start.date() + timedelta(days=skip + 200)
    ours = occurrences(
        start,
        read_rule(rule),
        first=first,
        last=last,
        to_utc=lambda local: local.replace(tzinfo=UTC),
        budget=Budget(),
    )
    wanted = [one for one in ours if first <= one.date() <= last]
    begin = datetime.combine(first, datetime.min.time(), UTC)
    stop = datetime.combine(last, datetime.max.time(), UTC)
    assert wanted == [one.replace(tzinfo=None) for one in theirs.between(begin, stop, inc=True)]
