"""Quiet hours: 47 CFR 64.1200(c)(1), local time at the called party's location.

Clock changes: 15 U.S.C. 260a (second Sunday of March, first Sunday of November, 2 a.m.); most
of Arizona and Hawaii are exempt (15 U.S.C. 260a(a), state law).
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.followup.quiet_hours import (
    FEDERAL,
    SendingWindow,
    is_allowed,
    next_allowed,
    next_allowed_everywhere,
)
from contractor.engine.followup.state_windows import STATE_WINDOWS, window_for

ZONES = {
    "America/New_York": (-5, -4),
    "America/Chicago": (-6, -5),
    "America/Denver": (-7, -6),
    "America/Los_Angeles": (-8, -7),
    "America/Phoenix": (-7, -7),
    "Pacific/Honolulu": (-10, -10),
}
WORKED = json.loads((Path(__file__).parents[2] / "reference" / "worked_cases.json").read_text())
CASES = [case for case in WORKED["cases"] if case["id"].startswith("quiet_hours")]
MINUTE = timedelta(minutes=1)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text)


@pytest.mark.parametrize("case", CASES, ids=lambda one: one["id"])
def test_worked_cases(case: dict[str, dict[str, Any]]) -> None:
    at, zone = utc(case["inputs"]["send_utc"]), case["inputs"]["tz"]
    assert at.astimezone(ZoneInfo(zone)).isoformat() == case["expected"]["local"]
    assert is_allowed(at, zone) is case["expected"]["allowed"]


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize(
    ("day", "is_summer"),
    [
        (date(2026, 3, 7), False),
        (date(2026, 3, 8), True),  # second Sunday of March 2026
        (date(2026, 10, 31), True),
        (date(2026, 11, 1), False),  # first Sunday of November 2026
    ],
)
def test_the_window_opens_at_8_and_closes_at_21_on_both_sides_of_a_switch(
    zone: str, day: date, is_summer: bool
) -> None:
    offset = timedelta(hours=ZONES[zone][is_summer])
    opens = datetime.combine(day, time(8), UTC) - offset
    closes = datetime.combine(day, time(21), UTC) - offset
    assert next_allowed(opens - timedelta(hours=6), zone) == opens
    assert not is_allowed(opens - timedelta(microseconds=1), zone)
    assert is_allowed(opens, zone)
    assert is_allowed(closes - MINUTE, zone)
    assert not is_allowed(closes, zone)


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize(("day", "late"), [(date(2026, 3, 7), 0), (date(2026, 10, 31), 1)])
def test_the_night_of_a_switch_is_an_hour_shorter_or_longer(
    zone: str, day: date, late: int
) -> None:
    before, after = (ZONES[zone][bool(late)], ZONES[zone][not late])
    at = datetime.combine(day, time(21), UTC) - timedelta(hours=before)
    assert next_allowed(at, zone) - at == timedelta(hours=11 - (after - before))


@given(
    st.sampled_from([date(2026, 3, 6), date(2026, 10, 30)]),
    st.integers(0, 4 * 24 * 60),
    st.sampled_from([*ZONES, "America/St_Johns", "Australia/Lord_Howe", "America/Havana"]),
    st.integers(0, 22 * 60),
    st.integers(30, 120),
)
@settings(max_examples=60, deadline=None)
def test_next_allowed_is_the_first_open_minute(
    day: date, minutes: int, zone: str, opens: int, length: int
) -> None:
    """Whatever the window, even one inside a skipped or repeated hour: try every minute."""
    start = datetime.combine(day, time(0), UTC) + minutes * MINUTE
    closes = min(opens + length, 24 * 60 - 1)
    window = SendingWindow(time(*divmod(opens, 60)), time(*divmod(closes, 60)))
    clock = ZoneInfo(zone)
    minute = start
    while not window.opens <= minute.astimezone(clock).time() < window.closes:
        minute += MINUTE
        assert minute < start + timedelta(days=3)
    assert next_allowed(start, zone, window) == minute


def test_a_window_inside_the_skipped_hour_waits_for_the_next_day() -> None:
    """No clock in New York shows 02:30 on 2026-03-08."""
    window = SendingWindow(time(2, 0), time(2, 59))
    assert next_allowed(utc("2026-03-08T06:00:00+00:00"), "America/New_York", window) == utc(
        "2026-03-09T06:00:00+00:00"
    )


def test_federal_holidays_and_closed_weekdays_are_skipped_where_wanted() -> None:
    # 5 U.S.C. 6103(a): Thanksgiving Day is the fourth Thursday of November (2026-11-26).
    at = utc("2026-11-26T15:00:00+00:00")
    assert next_allowed(at, "America/Chicago") == at
    thanksgiving = frozenset({date(2026, 11, 26)})
    friday = utc("2026-11-27T14:00:00+00:00")
    assert next_allowed(at, "America/Chicago", FEDERAL, thanksgiving) == friday
    no_sunday = SendingWindow(closed_weekdays=frozenset({6}))
    sunday = utc("2026-11-29T15:00:00+00:00")
    assert next_allowed(sunday, "America/Chicago", no_sunday) == utc("2026-11-30T14:00:00+00:00")


def test_states_that_end_at_8_pm() -> None:
    """State overrides: from memory, confirm."""
    at = utc("2026-07-01T00:30:00+00:00")  # 20:30 in New York
    assert is_allowed(at, "America/New_York", window_for("NY"))
    assert not is_allowed(at, "America/New_York", window_for("fl"))
    assert next_allowed(at, "America/New_York", window_for("FL")) == utc(
        "2026-07-01T12:00:00+00:00"
    )
    assert window_for(None) == window_for("ZZ") == FEDERAL
    for window in STATE_WINDOWS.values():
        assert "from memory, confirm" in window.source
        assert FEDERAL.opens <= window.opens < window.closes <= FEDERAL.closes
        assert (
            window.closes < FEDERAL.closes
            or window.opens > FEDERAL.opens
            or (window.closed_weekdays)
        )


def test_an_unknown_zone_waits_until_all_four_are_awake() -> None:
    """8:00 in Los Angeles is 16:00Z in winter, when New York shows 11:00."""
    four = list(ZONES)[:4]
    at = utc("2026-01-15T12:00:00+00:00")
    assert next_allowed_everywhere(at, four) == utc("2026-01-15T16:00:00+00:00")
    # 21:00 in New York is 02:00Z: from then on it is the next day's 8:00 in Los Angeles.
    assert next_allowed_everywhere(utc("2026-01-16T02:00:00+00:00"), four) == utc(
        "2026-01-16T16:00:00+00:00"
    )


def test_zones_that_are_never_awake_together_are_refused() -> None:
    early = SendingWindow(time(8), time(9))
    with pytest.raises(InputError) as refused:
        next_allowed_everywhere(
            utc("2026-01-15T12:00:00+00:00"), ["America/New_York", "Pacific/Honolulu"], early
        )
    assert refused.value.code == "no_sending_time"


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: is_allowed(utc("2026-01-01T00:00:00"), "America/Chicago"), "time_without_offset"),
        (lambda: is_allowed(datetime(2026, 1, 1, tzinfo=UTC), "Chicago"), "unknown_zone"),
        (lambda: is_allowed(datetime(2026, 1, 1, tzinfo=UTC), "../UTC"), "unknown_zone"),
        (lambda: SendingWindow(time(9), time(9)), "bad_window"),
        (lambda: SendingWindow(closed_weekdays=frozenset(range(7))), "bad_window"),
    ],
)
def test_bad_input_is_refused(call: object, code: str) -> None:
    assert callable(call)
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.code == code
