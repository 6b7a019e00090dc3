"""What a series of readings shows: closing, not shown to move, moving in, or too little to say."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median

from contractor.engine.movement.readings import DEFAULT_POLICY, Policy, Series, Verdict
from contractor.engine.movement.trend import LineFit, TheilSen, fit_line, theil_sen

# 0.6745 is the upper quartile of the normal distribution: it turns the median absolute
# deviation into a standard deviation.
_QUARTILE = 0.6745
_FINEST_SD_IN = 1.0 / 64.0 / 12.0**0.5
_SERIOUSNESS: dict[Verdict, int] = {
    "too few readings": 0,
    "closing": 1,
    "not shown to move": 2,
    "moving in": 3,
}


@dataclass(frozen=True)
class Judged:
    """One line and its verdict. ``low`` and ``high`` bound the slope, in in/yr."""

    fit: LineFit
    residual_sd_in: float
    low: float
    high: float
    verdict: Verdict
    reason: str


@dataclass(frozen=True)
class SeriesVerdict:
    """The answer for one series; ``outliers`` are indexes into its readings.

    ``fit`` is the least-squares line the verdict rests on, None below two readings. ``low`` and
    ``high`` bound its slope (in/yr) with the gauge's step counted in.
    """

    series: Series
    fit: LineFit | None
    theil_sen: TheilSen | None
    outliers: tuple[int, ...]
    left_out: tuple[int, ...]
    residual_sd_in: float | None
    low: float | None
    high: float | None
    verdict: Verdict
    reason: str
    cautions: tuple[str, ...]


def find_outliers(series: Series, line: TheilSen, policy: Policy) -> tuple[int, ...]:
    """Return the readings far off the Theil-Sen line.

    Rule: modified z-score 0.6745 |r - median r| / MAD above 3.5 (Iglewicz and Hoaglin 1993)
    on the residuals of the Theil-Sen line, where MAD is not taken below that of the gauge's own
    rounding (1/64 in where unknown), so that perfect readings do not make a normal one an
    outlier. Needs 5 readings; more than a quarter far off is scatter, not outliers.
    """
    pairs = zip(series.years(), series.values_in(), strict=True)
    residuals = [y - line.at(x) for x, y in pairs]
    if len(residuals) < 5:
        return ()
    centre = median(residuals)
    spread = median(abs(r - centre) for r in residuals)
    spread = max(spread, _QUARTILE * max(series.gauge_sd_in(), _FINEST_SD_IN))
    found = tuple(
        i
        for i, r in enumerate(residuals)
        if abs(r - centre) > 1e-9 and _QUARTILE * abs(r - centre) > policy.outlier_z * spread
    )
    return found if 4 * len(found) <= len(residuals) else ()


def judge_series(series: Series, policy: Policy = DEFAULT_POLICY) -> SeriesVerdict:
    """Return the verdict for ``series``.

    Flagged outliers are never dropped in silence: the lines with and without them are both
    judged, and the more serious verdict stands; where both agree, nothing is left out.
    """
    years, values = series.years(), series.values_in()
    if len(years) < 2:
        return _too_few(series, None, None, "One reading shows a state, not a movement.")
    robust = theil_sen(years, values, policy.confidence)
    whole = fit_line(years, values, policy.confidence)
    if whole.df < 1:
        return _too_few(
            series,
            whole,
            robust,
            "Two readings give a slope but no interval: nothing tells movement from error.",
        )
    outliers = find_outliers(series, robust, policy)
    judged = _judge_line(whole, series, policy)
    left_out: tuple[int, ...] = ()
    if outliers and len(years) - len(outliers) >= 3:
        kept = [i for i in range(len(years)) if i not in outliers]
        line = fit_line([years[i] for i in kept], [values[i] for i in kept], policy.confidence)
        without = _judge_line(line, series, policy)
        if _SERIOUSNESS[without.verdict] > _SERIOUSNESS[judged.verdict]:
            judged, left_out = without, outliers
    return SeriesVerdict(
        *(series, judged.fit, robust, outliers, left_out, judged.residual_sd_in),
        *(judged.low, judged.high, judged.verdict, judged.reason),
        cautions=_cautions(series, outliers, left_out),
    )


def _too_few(
    series: Series, fit: LineFit | None, robust: TheilSen | None, reason: str
) -> SeriesVerdict:
    return SeriesVerdict(
        *(series, fit, robust, (), (), None, None, None, "too few readings", reason),
        cautions=_cautions(series, (), ()),
    )


def _judge_line(fit: LineFit, series: Series, policy: Policy) -> Judged:
    """Judge one line of three or more readings.

    The residual scatter is not taken below the gauge's rounding (q / sqrt 12): readings in whole
    sixteenths can lie on a perfect line by chance.
    """
    assert fit.residual_sd is not None and fit.t_factor is not None
    sd = max(fit.residual_sd, series.gauge_sd_in())
    half = fit.t_factor * sd / fit.sxx**0.5
    low, high = fit.slope - half, fit.slope + half
    verdict, reason = _verdict(fit, (low, high), series, policy)
    return Judged(fit, sd, low, high, verdict, reason)


def _verdict(
    fit: LineFit, interval: tuple[float, float], series: Series, policy: Policy
) -> tuple[Verdict, str]:
    low, high = interval
    percent = f"{policy.confidence * 100:g} %"
    span = f"{low:+.3f} to {high:+.3f} in/yr"
    limit = policy.growth_limit_in_per_year
    if low > 0.0:
        return "moving in", f"The whole {percent} interval of the slope, {span}, is above zero."
    if fit.slope > limit and fit.slope * series.years()[-1] > 2.0 * _step_in(series):
        return (
            "moving in",
            f"The slope {fit.slope:+.3f} in/yr is above the limit of {limit:g} in/yr and the rise "
            f"is more than the gauge could make up, though the {percent} interval {span} "
            "still holds zero.",
        )
    if high < 0.0:
        return "closing", f"The whole {percent} interval of the slope, {span}, is below zero."
    return (
        "not shown to move",
        f"The {percent} interval of the slope, {span}, holds zero. That is no proof of rest: "
        f"a movement of up to {max(high, 0.0):.3f} in/yr would fit the readings.",
    )


def _step_in(series: Series) -> float:
    return max(reading.resolution_in or 0.0 for reading in series.readings)


def _cautions(
    series: Series, outliers: tuple[int, ...], left_out: tuple[int, ...]
) -> tuple[str, ...]:
    found: list[str] = []
    readings = series.readings
    for i in outliers:
        what = "left out of the line" if i in left_out else "kept in the line"
        found.append(f"The reading of {readings[i].on.isoformat()} lies far off; {what}.")
    if len(readings) - 1 in outliers:
        found.append("The newest reading is the one far off: measure again before trusting it.")
    if len(readings) > 1 and (readings[-1].on - readings[0].on).days < 365:
        found.append("Less than a year of readings: a seasonal swing can look like movement.")
    if len({r.instrument for r in readings if r.instrument}) > 1:
        found.append("More than one instrument was used; their zeros may differ.")
    if any(r.resolution_in is None for r in readings):
        found.append("The step of the gauge is not known for every reading.")
    return tuple(found)


def most_serious(verdicts: list[SeriesVerdict]) -> SeriesVerdict:
    """Return the verdict that speaks for the wall: any place moving in means moving in.

    "Too few readings" at one place outweighs "closing" at another, for the wall as a whole is
    then not shown to close; it does not outweigh a place that does move.
    """
    order: dict[Verdict, int] = {
        "closing": 0,
        "not shown to move": 1,
        "too few readings": 2,
        "moving in": 3,
    }
    return max(verdicts, key=lambda v: (order[v.verdict], v.fit.slope if v.fit else 0.0))
