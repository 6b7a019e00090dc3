"""When to read next: soon where a wall moves or a reading is odd, rarely where it rests."""

from __future__ import annotations

import math
from datetime import date, timedelta

from contractor.engine.movement.quantile import t_quantile
from contractor.engine.movement.readings import DAYS_PER_YEAR, DEFAULT_POLICY, Policy
from contractor.engine.movement.verdict import SeriesVerdict

# One sixteenth: the growth that a rule or a plumb line shows for certain.
_VISIBLE_GROWTH_IN = 1.0 / 16.0


def next_reading(
    verdict: SeriesVerdict, as_of: date | None = None, policy: Policy = DEFAULT_POLICY
) -> tuple[date, str]:
    """Return the day of the next reading and why; never before ``as_of``."""
    days, reason = days_to_next(verdict, policy)
    due = verdict.series.readings[-1].on + timedelta(days=days)
    if as_of is not None and due < as_of:
        return as_of, f"{reason} That day has passed: read now."
    return due, reason


def days_to_next(verdict: SeriesVerdict, policy: Policy = DEFAULT_POLICY) -> tuple[int, str]:
    """Return the days from the last reading to the next, and the reason in words."""
    if len(verdict.series.readings) - 1 in verdict.outliers:
        return policy.recheck_days, "The newest reading is far off: read again to settle it."
    if verdict.verdict == "moving in":
        return _while_moving(verdict, policy)
    if verdict.low is None:
        return policy.first_gap_days, "Three readings are needed before a verdict."
    return _until_sharp_enough(verdict, policy)


def _while_moving(verdict: SeriesVerdict, policy: Policy) -> tuple[int, str]:
    rate = verdict.high if verdict.high is not None else 0.0
    days = int(_VISIBLE_GROWTH_IN / rate * DAYS_PER_YEAR) if rate > 0.0 else policy.moving_gap_days
    days = max(policy.shortest_gap_days, min(policy.moving_gap_days, days))
    return days, "The wall moves in: read before it can grow by another 1/16 in, monthly at most."


def _until_sharp_enough(verdict: SeriesVerdict, policy: Policy) -> tuple[int, str]:
    """Return the shortest wait after which one more reading tells half the growth limit.

    Predicts the half width of the slope's interval with one more reading of the same scatter;
    waits are tried day by day.
    """
    wanted = policy.growth_limit_in_per_year / 2.0
    for days in range(policy.first_gap_days, policy.longest_gap_days + 1):
        if half_width_after(verdict, days, policy) <= wanted:
            settled = days == policy.first_gap_days
            wait = policy.longest_gap_days if settled else days
            reason = (
                f"The slope is known to within {wanted:g} in/yr: twice a year is enough."
                if settled
                else f"By then one more reading tells a movement of {wanted:g} in/yr."
            )
            return wait, reason
    return policy.usual_gap_days, "The slope is not yet sharp: keep to one reading a quarter."


def half_width_after(verdict: SeriesVerdict, days: int, policy: Policy) -> float:
    """Return the half width (in/yr) of the slope's interval after one more reading."""
    years = verdict.series.years()
    kept = [x for i, x in enumerate(years) if i not in verdict.left_out]
    kept.append(years[-1] + days / DAYS_PER_YEAR)
    mean = math.fsum(kept) / len(kept)
    sxx = math.fsum((x - mean) ** 2 for x in kept)
    sd = verdict.residual_sd_in or 0.0
    return t_quantile(0.5 + policy.confidence / 2.0, len(kept) - 2) * sd / math.sqrt(sxx)
