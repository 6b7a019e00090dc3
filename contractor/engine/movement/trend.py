"""Straight lines through readings: least squares with its interval, and Theil-Sen beside it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, median

from contractor.engine.movement.quantile import t_quantile


@dataclass(frozen=True)
class LineFit:
    """Least-squares line y = intercept + slope x; the interval is that of the slope.

    With two readings there is a slope but nothing to judge it by: the fields that need degrees
    of freedom are None.
    """

    count: int
    slope: float
    intercept: float
    mean_x: float
    sxx: float
    residual_sd: float | None
    se_slope: float | None
    se_intercept: float | None
    slope_low: float | None
    slope_high: float | None
    t_factor: float | None
    r_squared: float | None
    f_value: float | None

    @property
    def df(self) -> int:
        return self.count - 2

    def at(self, x: float) -> float:
        return self.intercept + self.slope * x

    def band_half_width(self, x: float, residual_sd: float) -> float | None:
        """Return the half width of the confidence band of the mean line at ``x``."""
        if self.t_factor is None:
            return None
        spread = 1.0 / self.count + (x - self.mean_x) ** 2 / self.sxx
        return self.t_factor * residual_sd * math.sqrt(spread)


@dataclass(frozen=True)
class TheilSen:
    slope: float
    intercept: float
    slope_low: float
    slope_high: float

    def at(self, x: float) -> float:
        return self.intercept + self.slope * x


def fit_line(x: Sequence[float], y: Sequence[float], confidence: float = 0.95) -> LineFit:
    """Fit y on x by least squares. Raises ValueError where all x are the same."""
    n = len(x)
    mean_x, mean_y = math.fsum(x) / n, math.fsum(y) / n
    dx = [value - mean_x for value in x]
    dy = [value - mean_y for value in y]
    sxx = math.fsum(d * d for d in dx)
    if n < 2 or sxx == 0.0:
        raise ValueError("a slope needs readings at two different x")
    slope = math.fsum(p * q for p, q in zip(dx, dy, strict=True)) / sxx
    sse = math.fsum((q - slope * p) ** 2 for p, q in zip(dx, dy, strict=True))
    syy = math.fsum(d * d for d in dy)
    intercept = mean_y - slope * mean_x
    return _with_interval(n, slope, intercept, (mean_x, sxx), (sse, syy), confidence)


def _with_interval(
    n: int,
    slope: float,
    intercept: float,
    spread_x: tuple[float, float],
    squares: tuple[float, float],
    confidence: float,
) -> LineFit:
    mean_x, sxx = spread_x
    sse, syy = squares
    r_squared = 1.0 - sse / syy if syy > 0.0 else None
    if n < 3:
        nothing = (None,) * 6
        return LineFit(n, slope, intercept, mean_x, sxx, *nothing, r_squared, None)
    sd = math.sqrt(sse / (n - 2))
    se_slope = sd / math.sqrt(sxx)
    se_intercept = sd * math.sqrt(1.0 / n + mean_x**2 / sxx)
    t = t_quantile(0.5 + confidence / 2.0, n - 2)
    f_value = (syy - sse) / (sd * sd) if sd > 0.0 else None
    low, high = slope - t * se_slope, slope + t * se_slope
    return LineFit(
        *(n, slope, intercept, mean_x, sxx, sd, se_slope, se_intercept),
        *(low, high, t, r_squared, f_value),
    )


def theil_sen(x: Sequence[float], y: Sequence[float], confidence: float = 0.95) -> TheilSen:
    """Return the median of all pairwise slopes with its interval; half the points lie above.

    P. K. Sen, Estimates of the regression coefficient based on Kendall's tau, Journal of the
    American Statistical Association 63 (1968), equation 2.6, with the variance corrected for
    ties. Raises ValueError where all x are the same.
    """
    slopes = sorted(
        (y[j] - y[i]) / (x[j] - x[i]) for i in range(len(x)) for j in range(len(x)) if x[j] > x[i]
    )
    if not slopes:
        raise ValueError("a slope needs readings at two different x")
    slope = median(slopes)
    z = NormalDist().inv_cdf(0.5 + confidence / 2.0)
    half = z * math.sqrt(_sen_variance(x, y)) / 2.0
    last = len(slopes) - 1
    upper = min(round(len(slopes) / 2.0 + half), last)
    lower = max(round(len(slopes) / 2.0 - half) - 1, 0)
    intercept = median(b - slope * a for a, b in zip(x, y, strict=True))
    return TheilSen(slope, intercept, slopes[lower], slopes[upper])


def _sen_variance(x: Sequence[float], y: Sequence[float]) -> float:
    n = len(x)
    ties = [count for values in (x, y) for count in Counter(values).values() if count > 1]
    total = n * (n - 1) * (2 * n + 5) - sum(k * (k - 1) * (2 * k + 5) for k in ties)
    return max(total, 0) / 18.0
