"""Working days and holiday proposals.

Days off on a weekend: 5 U.S.C. 6103(b)(1) (Saturday: the Friday before) and Executive Order
11582, section 3 (Sunday: the Monday after).
"""

from __future__ import annotations

from datetime import date, timedelta

import holidays
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.calendars.holiday_proposals import (
    US_PLACES,
    federal_holidays,
    holiday_proposals,
)
from contractor.engine.calendars.working_days import WorkingCalendar
from contractor.engine.errors import InputError

# 5 U.S.C. 6103(a), by its own words, for 2026.
FEDERAL_2026 = {
    date(2026, 1, 1),  # January 1
    date(2026, 1, 19),  # third Monday in January
    date(2026, 2, 16),  # third Monday in February
    date(2026, 5, 25),  # last Monday in May
    date(2026, 6, 19),  # June 19
    date(2026, 7, 4),  # July 4
    date(2026, 9, 7),  # first Monday in September
    date(2026, 10, 12),  # second Monday in October
    date(2026, 11, 11),  # November 11
    date(2026, 11, 26),  # fourth Thursday in November
    date(2026, 12, 25),  # December 25
}


def test_federal_holidays_are_those_of_the_law() -> None:
    found = holiday_proposals(2026)
    assert {one.day for one in found if not one.is_observed} == FEDERAL_2026
    assert [one.day for one in found] == sorted(one.day for one in found)


@pytest.mark.parametrize(
    ("year", "observed", "name"),
    [
        (2026, date(2026, 7, 3), "Independence Day"),  # 4 July 2026 is a Saturday
        (2021, date(2021, 7, 5), "Independence Day"),  # 4 July 2021 is a Sunday
        (2021, date(2021, 12, 31), "New Year's Day"),  # 1 January 2022 is a Saturday
        (2022, date(2022, 12, 26), "Christmas Day"),  # 25 December 2022 is a Sunday
        (2027, date(2027, 6, 18), "Juneteenth National Independence Day"),  # a Saturday
    ],
)
def test_observed_days(year: int, observed: date, name: str) -> None:
    assert (observed, name) in [
        (one.day, one.name) for one in holiday_proposals(year) if one.is_observed
    ]


def test_federal_days_over_years() -> None:
    days = federal_holidays(2021, 2022)
    assert {date(2021, 12, 31), date(2022, 12, 26)} <= days


def test_the_places_told_are_those_of_the_library() -> None:
    assert list(US_PLACES) == holidays.list_supported_countries(include_aliases=False)["US"]


@pytest.mark.parametrize(
    ("country", "subdivision", "code"),
    [("XX", None, "unknown_country"), ("US", "QQ", "unknown_subdivision")],
)
def test_unknown_places_are_refused(country: str, subdivision: str | None, code: str) -> None:
    with pytest.raises(InputError) as refused:
        holiday_proposals(2026, country, subdivision)
    assert refused.value.code == code


def test_a_state_adds_its_own_holidays() -> None:
    """Texas Government Code 662.003(b): March 2, Texas Independence Day (from memory, confirm)."""
    names = {one.name for one in holiday_proposals(2026, "US", "TX")}
    assert "Texas Independence Day" in names
    assert "Texas Independence Day" not in {one.name for one in holiday_proposals(2026)}


def test_saturday_work_and_extra_days() -> None:
    calendar = WorkingCalendar(
        weekdays=frozenset(range(5)),
        holidays=frozenset({date(2026, 7, 3)}),
        extra=frozenset({date(2026, 7, 4)}),
    )
    assert not calendar.is_working(date(2026, 7, 3))
    assert calendar.is_working(date(2026, 7, 4))
    assert calendar.on_or_after(date(2026, 7, 3)) == date(2026, 7, 4)
    assert calendar.on_or_before(date(2026, 7, 3)) == date(2026, 7, 2)


@given(
    st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    st.integers(-60, 60),
    st.sets(st.integers(0, 6), min_size=1),
    st.sets(st.dates(date(2020, 1, 1), date(2030, 1, 1)), max_size=30),
)
@settings(deadline=None)
def test_counting_agrees_with_numpy(
    day: date, days: int, weekdays: set[int], holidays: set[date]
) -> None:
    """numpy 2, busday_offset and busday_count."""
    calendar = WorkingCalendar(frozenset(weekdays), frozenset(holidays))
    mask = [number in weekdays for number in range(7)]
    offset = np.busday_offset(
        day,
        days,
        roll="forward" if days <= 0 else "backward",
        weekmask=mask,
        holidays=sorted(holidays),
    )
    assert calendar.add(day, days) == offset.astype(date)
    last = day + timedelta(days=abs(days))
    assert calendar.count(day, last) == np.busday_count(
        day, last + timedelta(days=1), weekmask=mask, holidays=sorted(holidays)
    )


def test_a_branch_that_never_works_is_refused() -> None:
    with pytest.raises(InputError, match="at least one weekday"):
        WorkingCalendar(weekdays=frozenset())
    with pytest.raises(InputError, match="Monday = 0"):
        WorkingCalendar(weekdays=frozenset({7}))
