"""Wall-clock times on the two days of a clock change: RFC 5545, section 3.3.5."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.calendars.zones import (
    day_bounds,
    first_instant_from,
    is_in_gap,
    local_to_utc,
    zone,
)
from contractor.engine.errors import InputError

NEW_YORK = zone("America/New_York")


def local(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_a_time_that_occurs_twice_is_its_first_occurrence() -> None:
    """RFC 5545, 3.3.5: 'TZID=America/New_York:20071104T013000' is 1:30 EDT (UTC-04:00)."""
    assert local_to_utc(local("2007-11-04T01:30:00"), NEW_YORK) == datetime(
        2007, 11, 4, 5, 30, tzinfo=UTC
    )


def test_a_time_that_does_not_occur_has_the_offset_before_the_gap() -> None:
    """RFC 5545, 3.3.5: 'TZID=America/New_York:20070311T023000' is 3:30 EDT (UTC-04:00)."""
    assert local_to_utc(local("2007-03-11T02:30:00"), NEW_YORK) == datetime(
        2007, 3, 11, 7, 30, tzinfo=UTC
    )
    assert is_in_gap(local("2007-03-11T02:30:00"), NEW_YORK)
    assert not is_in_gap(local("2007-03-11T03:00:00"), NEW_YORK)


@pytest.mark.parametrize(("day", "hours"), [("2026-03-08", 23), ("2026-11-01", 25)])
def test_days_of_a_change_have_23_and_25_hours(day: str, hours: int) -> None:
    """15 U.S.C. 260a: second Sunday of March, first Sunday of November."""
    begin, end = day_bounds(date.fromisoformat(day), date.fromisoformat(day), NEW_YORK)
    assert end - begin == timedelta(hours=hours)


@given(
    st.sampled_from(["America/New_York", "America/Havana", "Australia/Lord_Howe", "Asia/Kolkata"]),
    st.dates(date(2025, 1, 1), date(2027, 1, 1)) | st.just(date(2026, 3, 8)),
    st.times().map(lambda at: at.replace(second=0, microsecond=0)),
)
@settings(deadline=None)
def test_the_first_instant_shows_the_time_or_later_and_the_second_before_does_not(
    name: str, day: date, at: time
) -> None:
    where = zone(name)
    instant = first_instant_from(day, at, where)
    wanted = datetime.combine(day, at)
    assert instant.astimezone(where).replace(tzinfo=None) >= wanted
    before = (instant - timedelta(seconds=1)).astimezone(where).replace(tzinfo=None)
    assert before < wanted


@pytest.mark.parametrize("name", ["Nowhere/Town", "", "../etc/passwd", "/UTC", "America"])
def test_an_unknown_zone_is_refused(name: str) -> None:
    with pytest.raises(InputError) as refused:
        zone(name)
    assert refused.value.code == "unknown_zone"
