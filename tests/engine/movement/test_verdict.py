"""Verdicts on series of readings: the four answers, outliers, the next reading."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from contractor.engine.movement import (
    Policy,
    Reading,
    Series,
    SeriesVerdict,
    judge_series,
    most_serious,
    next_reading,
)

START = date(2025, 1, 6)
DAYS = (0, 91, 182, 273, 365, 456, 547)
MOVING = (1.0, 1.031, 1.047, 1.078, 1.125, 1.141, 1.172)
RESTING = (1.0, 1.016, 0.984, 1.0, 1.031, 1.0, 1.016)


def series(
    values: tuple[float, ...], days: tuple[int, ...] = DAYS, step: float | None = 1 / 64
) -> Series:
    return Series(
        *("6'-0\"", "4'-0\"", "inward"),
        readings=tuple(
            Reading(START + timedelta(days=day), value, "plumb line", step)
            for day, value in zip(days, values, strict=True)
        ),
    )


def test_a_wall_that_moves_in() -> None:
    """Worked wall A of the reference values: 0.116 in/yr, interval above zero (derived)."""
    found = judge_series(series(MOVING, step=None))
    assert found.verdict == "moving in"
    assert found.fit is not None
    assert (found.low, found.high) == pytest.approx((0.102156, 0.130694), abs=1e-6)
    assert "0.102 to +0.131 in/yr, is above zero" in found.reason


def test_a_wall_at_rest_is_only_not_shown_to_move() -> None:
    """Worked wall B of the reference values: interval -0.022 to 0.040 (derived)."""
    found = judge_series(series(RESTING, step=None))
    assert found.verdict == "not shown to move"
    assert "up to 0.040 in/yr would fit" in found.reason


def test_a_wall_drawn_back_is_closing() -> None:
    found = judge_series(series(tuple(2.0 - value for value in MOVING)))
    assert found.verdict == "closing"
    assert found.high is not None and found.high < 0


@pytest.mark.parametrize(("count", "word"), [(1, "One reading"), (2, "Two readings")])
def test_too_few_readings(count: int, word: str) -> None:
    found = judge_series(series(MOVING[:count], DAYS[:count]))
    assert found.verdict == "too few readings"
    assert found.reason.startswith(word)
    assert found.low is None


def test_the_step_of_the_gauge_widens_the_interval() -> None:
    """A perfect line in whole sixteenths is no proof: q / sqrt(12) = 0.018 in (derived)."""
    values = (1.0, 1.0625, 1.125)
    sharp = judge_series(series(values, DAYS[:3], step=None))
    coarse = judge_series(series(values, DAYS[:3], step=1 / 16))
    assert sharp.verdict == "moving in"
    assert coarse.low is not None and coarse.low < 0
    assert coarse.residual_sd_in == pytest.approx(0.0625 / 12**0.5)


def test_growth_above_an_eighth_a_year_counts_though_the_interval_holds_zero() -> None:
    """Growth limit 1/8 in/yr: common practice."""
    values, days = (1.0, 1.5, 1.25, 1.75), (0, 91, 182, 273)
    found = judge_series(series(values, days, step=1 / 16))
    assert found.low is not None and found.low < 0
    assert found.verdict == "moving in"
    assert "above the limit of 0.125 in/yr" in found.reason
    lenient = judge_series(series(values, days, step=1 / 16), Policy(growth_limit_in_per_year=1.0))
    assert lenient.verdict == "not shown to move"


def test_a_rise_within_twice_the_gauge_step_is_no_growth() -> None:
    found = judge_series(series((1.0, 1.0, 1.0625), (0, 30, 60), step=1 / 16))
    assert found.fit is not None and found.fit.slope > 0.125
    assert found.verdict == "not shown to move"


def test_a_misread_value_in_the_middle_is_flagged_and_does_not_hide_movement() -> None:
    values = (*MOVING[:3], 1.9, *MOVING[4:])
    found = judge_series(series(values))
    assert found.outliers == (3,)
    assert found.left_out == (3,)
    assert found.verdict == "moving in"
    assert any("2025-10-06 lies far off; left out" in text for text in found.cautions)


def test_a_jump_in_the_newest_reading_is_never_dropped() -> None:
    values = (1.0, 1.0, 1.015625, 1.0, 1.0, 1.0, 1.75)
    found = judge_series(series(values))
    assert found.outliers == (6,)
    assert found.left_out == ()
    assert found.verdict == "moving in"
    assert next_reading(found) == (
        START + timedelta(days=547 + 7),
        "The newest reading is far off: read again to settle it.",
    )


def test_scatter_is_not_a_crowd_of_outliers() -> None:
    values = (1.0, 1.0, 1.0, 1.0, 2.0, 0.0, 3.0)
    assert judge_series(series(values)).outliers == ()


def test_no_reading_of_a_steady_series_is_an_outlier() -> None:
    assert judge_series(series(RESTING)).outliers == ()
    assert judge_series(series(MOVING, step=None)).outliers == ()
    assert judge_series(series((1.0,) * 7)).outliers == ()


@pytest.mark.parametrize(
    ("values", "days", "wait"),
    [
        (MOVING[:2], DAYS[:2], 30),
        (MOVING, DAYS, 30),
        (tuple(1.0 + day / 365 for day in DAYS), DAYS, 22),
        (RESTING, DAYS, 182),
    ],
)
def test_the_next_reading_comes_sooner_where_it_matters(
    values: tuple[float, ...], days: tuple[int, ...], wait: int
) -> None:
    found = judge_series(series(values, days))
    assert next_reading(found)[0] == START + timedelta(days=days[-1] + wait)


def test_the_next_reading_waits_until_it_can_tell() -> None:
    found = judge_series(series((1.0, 1.01, 0.99, 1.0), (0, 60, 120, 180)))
    due, reason = next_reading(found)
    assert 30 < (due - START).days - 180 <= 182
    assert "one more reading tells" in reason


def test_a_day_that_has_passed_means_now() -> None:
    found = judge_series(series(RESTING))
    today = START + timedelta(days=900)
    assert next_reading(found, today)[0] == today
    assert next_reading(found, today)[1].endswith("read now.")


def test_one_place_moving_in_speaks_for_the_wall() -> None:
    closing = judge_series(series(tuple(2.0 - value for value in MOVING)))
    few = judge_series(series(MOVING[:1], DAYS[:1]))
    moving = judge_series(series(MOVING))
    verdicts: list[SeriesVerdict] = [closing, few, moving]
    assert most_serious(verdicts) is moving
    assert most_serious([closing, few]) is few


def test_two_instruments_are_pointed_out() -> None:
    readings = series(RESTING).readings
    mixed = (Reading(readings[0].on, 1.0, "laser", 1 / 64), *readings[1:])
    found = judge_series(Series("6'-0\"", "4'-0\"", "inward", mixed))
    assert any("More than one instrument" in text for text in found.cautions)
