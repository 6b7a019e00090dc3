"""Readings of one place on a wall: inward offset or crack width over time, in inches."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Literal

Quantity = Literal["inward", "crack_width"]
Verdict = Literal["closing", "not shown to move", "moving in", "too few readings"]

DAYS_PER_YEAR = 365.25


@dataclass(frozen=True)
class Reading:
    """One reading. ``resolution_in`` is the smallest step of the instrument, None if unknown."""

    on: date
    value_in: float
    instrument: str | None = None
    resolution_in: float | None = None


@dataclass(frozen=True)
class Series:
    """Readings of one quantity at one station and height, sorted by day, one a day."""

    station: str
    height: str
    quantity: Quantity
    readings: tuple[Reading, ...]

    @property
    def name(self) -> str:
        what = "crack" if self.quantity == "crack_width" else "bow"
        return f"{what} at {self.station}, {self.height} up"

    def years(self) -> list[float]:
        """Return the age of each reading in years of 365.25 days from the first."""
        first = self.readings[0].on
        return [(reading.on - first).days / DAYS_PER_YEAR for reading in self.readings]

    def values_in(self) -> list[float]:
        return [reading.value_in for reading in self.readings]

    def gauge_sd_in(self) -> float:
        """Return the rms standard deviation of rounding to the gauge's step, q / sqrt(12)."""
        steps = [r.resolution_in or 0.0 for r in self.readings]
        return math.sqrt(math.fsum(q * q for q in steps) / (12.0 * len(steps)))


@dataclass(frozen=True)
class Policy:
    """Company settings for movement; all common practice, no published source.

    ``growth_limit_in_per_year``: a slope above it counts as moving in even where its interval
    still holds zero, once the rise is more than the gauge could make up (twice its step).
    ``outlier_z`` is the limit of the modified z-score: Iglewicz and Hoaglin, How to Detect and
    Handle Outliers (ASQC, 1993), recommend 3.5.
    """

    confidence: float = 0.95
    growth_limit_in_per_year: float = 0.125
    outlier_z: float = 3.5
    recheck_days: int = 7
    first_gap_days: int = 30
    moving_gap_days: int = 30
    shortest_gap_days: int = 14
    usual_gap_days: int = 91
    longest_gap_days: int = 182


DEFAULT_POLICY = Policy()
