"""Due dates after the install; expected months from the calendar, offsets `common practice`."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from dateutil.relativedelta import relativedelta  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.followup.due_dates import add_months, due_dates, extra_reading, next_due
from contractor.engine.followup.policy import (
    FollowUpPolicy,
    Season,
    policy_document,
    read_policy,
)

DAYS = st.dates(date(2000, 1, 1), date(2200, 12, 31))


@pytest.mark.parametrize(
    ("installed", "months", "expected"),
    [
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2025, 10, 31), 1, date(2025, 11, 30)),
        (date(2025, 12, 15), 1, date(2026, 1, 15)),
        (date(1999, 8, 30), 6, date(2000, 2, 29)),  # 2000 is a leap year, 2100 is not
        (date(2099, 8, 30), 6, date(2100, 2, 28)),
    ],
)
def test_month_ends_are_kept_inside_the_month(installed: date, months: int, expected: date) -> None:
    assert add_months(installed, months) == expected


@given(DAYS, st.integers(0, 600))
@settings(deadline=None)
def test_add_months_agrees_with_dateutil(day: date, months: int) -> None:
    """dateutil 2.9, relativedelta: "the day is clipped to the last of the month"."""
    assert add_months(day, months) == day + relativedelta(months=months)


def test_offsets_count_from_the_install_and_never_drift() -> None:
    policy = FollowUpPolicy(month_offsets=(1, 2, 3), seasons=(), end_months=3)
    assert [due.on for due in due_dates(date(2025, 12, 31), policy)] == [
        date(2026, 1, 31),
        date(2026, 2, 28),
        date(2026, 3, 31),
    ]


def test_default_policy_of_an_october_install() -> None:
    found = due_dates(date(2025, 10, 8), FollowUpPolicy())
    assert [(due.on.isoformat(), [r.text for r in due.reasons]) for due in found] == [
        ("2025-11-08", ["1 month after the install"]),
        ("2026-01-08", ["3 months after the install"]),
        ("2026-04-08", ["6 months after the install", "wet season"]),
        ("2026-07-08", ["9 months after the install"]),
        ("2026-08-15", ["dry season"]),
        ("2026-10-08", ["12 months after the install"]),
        ("2027-04-08", ["18 months after the install", "wet season"]),
        ("2027-08-15", ["dry season"]),
        ("2027-10-08", ["24 months after the install", "the last check of the follow-up"]),
    ]


def test_a_season_right_after_the_install_is_left_out() -> None:
    policy = FollowUpPolicy(month_offsets=(), seasons=(Season("dry season", 8, 15),), end_months=12)
    assert [due.on for due in due_dates(date(2026, 8, 1), policy)] == [date(2027, 8, 1)]


@given(DAYS)
@settings(deadline=None)
def test_dates_ascend_and_end_with_the_follow_up(installed: date) -> None:
    found = due_dates(installed, FollowUpPolicy())
    days = [due.on for due in found]
    assert days == sorted(set(days))
    assert all(day > installed for day in days)
    assert days[-1] == installed + relativedelta(months=24)
    assert all(b - a > timedelta(days=21) for a, b in pairwise(days))


def test_next_due_is_strictly_later_and_ends() -> None:
    policy = FollowUpPolicy(month_offsets=(6,), seasons=(), end_months=12)
    installed = date(2026, 1, 31)
    first = next_due(installed, policy, installed)
    assert first is not None and first.on == date(2026, 7, 31)
    second = next_due(installed, policy, first.on)
    assert second is not None and second.on == date(2027, 1, 31)
    assert next_due(installed, policy, second.on) is None


def test_a_moving_wall_is_read_again_after_its_interval() -> None:
    due = extra_reading(date(2026, 2, 1), FollowUpPolicy(moving_interval_days=28))
    assert due.on == date(2026, 3, 1)
    assert due.reasons[0].code == "wall_moves"


def test_a_policy_document_reads_back() -> None:
    policy = FollowUpPolicy((2, 5), (Season("dry season", 2, 29),), 18, 10, 14)
    assert read_policy(policy_document(policy)) == policy
    assert read_policy({"schema": "follow-up-policy/1"}) == FollowUpPolicy()


@pytest.mark.parametrize(
    ("change", "code", "pointer"),
    [
        ({"month_offsets": [0]}, "number_out_of_range", "/month_offsets/0"),
        ({"month_offsets": [3, 3]}, "repeated_month", "/month_offsets"),
        ({"month_offsets": "3"}, "not_a_list", "/month_offsets"),
        ({"end_months": 1.5}, "not_whole", "/end_months"),
        ({"seasons": [{"name": "wet", "month": 4, "day": 31}]}, "number_out_of_range",
         "/seasons/0/day"),
        ({"seasons": [{"month": 4, "day": 1}]}, "missing_field", "/seasons/0/name"),
        ({"merge_days": -1}, "number_out_of_range", "/merge_days"),
        ({"every": 3}, "unknown_field", "/every"),
        ({"schema": "other/1"}, "unknown_word", "/schema"),
    ],
)  # fmt: skip
def test_a_bad_policy_is_refused(change: dict[str, object], code: str, pointer: str) -> None:
    with pytest.raises(InputError) as refused:
        read_policy({"schema": "follow-up-policy/1", **change})
    assert (refused.value.code, refused.value.pointer) == (code, pointer)
