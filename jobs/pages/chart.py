"""A small chart of one wall for its homeowner: dots, a line once there is one, plain words.

The page draws it with its own colours (light and dark) and in its own language; the chart for
offices, with intervals and both lines, is ``contractor.engine.drawing.chart``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

WIDTH, HEIGHT = 340.0, 200.0
LEFT, RIGHT, TOP, BOTTOM = 76.0, 12.0, 14.0, 34.0
STEPS_IN = (1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0, 2.0, 4.0, 8.0)
STEPS_MM = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)
DAYS_PER_YEAR = 365.25


@dataclass(frozen=True)
class Chart:
    """Places in drawing units. ``rows`` are (day, text of the value), for the table beside."""

    kind: str
    dots: list[tuple[float, float]]
    line: tuple[float, float, float, float] | None
    levels: list[tuple[float, str]]
    first: date
    last: date
    rows: list[tuple[date, str]]
    verdict: str

    @property
    def baseline(self) -> float:
        return HEIGHT - BOTTOM


def chart_of(movement: dict[str, Any]) -> Chart:
    """Return the chart of the series that speaks for the wall (``movement-verdict/1``)."""
    verdict = movement["verdict"]
    speaking = [one for one in movement["series"] if one["verdict"] == verdict]
    series = max(speaking, key=lambda one: len(one["readings"]))
    quantity = series["quantity"]
    days = [date.fromisoformat(row["on"]) for row in series["readings"]]
    values = [float(row[quantity]["value"]) for row in series["readings"]]
    is_metric = series["readings"][0][quantity]["unit"] == "mm"
    levels = _levels(min(values), max(values), STEPS_MM if is_metric else STEPS_IN)
    span = max((days[-1] - days[0]).days, 1)
    spots = [((day - days[0]).days / span if len(days) > 1 else 0.5) for day in days]
    scale = (levels[0], levels[-1])
    return Chart(
        kind="crack" if quantity == "crack_width" else "bow",
        dots=[(_x(s), _y(v, scale)) for s, v in zip(spots, values, strict=True)],
        line=_line(series, span, scale) if verdict != "too few readings" else None,
        levels=[(_y(level, scale), value_text(level, is_metric)) for level in levels],
        first=days[0],
        last=days[-1],
        rows=[(d, value_text(v, is_metric)) for d, v in zip(days, values, strict=True)],
        verdict=verdict,
    )


def _levels(low: float, high: float, steps: tuple[float, ...]) -> list[float]:
    """Return three to six round values around all readings."""
    step = next((s for s in steps if (high - low) / s <= 4), steps[-1])
    first = int(low // step)
    last = max(int(-(-high // step)), first + 2)
    return [n * step for n in range(first, last + 1)]


def _x(share: float) -> float:
    return round(LEFT + 8 + share * (WIDTH - LEFT - RIGHT - 16), 1)


def _y(value: float, scale: tuple[float, float]) -> float:
    share = (value - scale[0]) / (scale[1] - scale[0])
    return round(HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM), 1)


def _line(
    series: dict[str, Any], span: int, scale: tuple[float, float]
) -> tuple[float, float, float, float] | None:
    fit = series["least_squares"]
    if fit is None:
        return None
    start = float(fit["at_first_reading"]["value"])
    end = start + float(fit["slope"]["value"]) * span / DAYS_PER_YEAR
    clipped = [min(max(value, scale[0]), scale[1]) for value in (start, end)]
    return _x(0.0), _y(clipped[0], scale), _x(1.0), _y(clipped[1], scale)


def value_text(value: float, is_metric: bool) -> str:
    """Return millimetres, or inches to the nearest 1/16 with a reduced fraction.

    >>> value_text(1.25, False), value_text(-0.125, False), value_text(31.75, True)
    ('1 1/4 in', '-1/8 in', '31.8 mm')
    """
    if is_metric:
        return f"{value:.1f}".rstrip("0").rstrip(".") + " mm"
    sixteenths = round(abs(value) * 16)
    sign = "-" if value < 0 and sixteenths else ""
    whole, rest = divmod(sixteenths, 16)
    if not rest:
        return f"{sign}{whole} in"
    down = rest & -rest
    fraction = f"{rest // down}/{16 // down}"
    return f"{sign}{whole} {fraction} in" if whole else f"{sign}{fraction} in"
