"""The movement chart: readings, least-squares line with its band, Theil-Sen beside it, verdict."""

from __future__ import annotations

import math
from datetime import date, timedelta

from contractor.engine.drawing.canvas import CANVASES, Canvas, CanvasName
from contractor.engine.drawing.lettering import text_width, wrap
from contractor.engine.drawing.svg import Svg
from contractor.engine.movement.document import read_case
from contractor.engine.movement.readings import DAYS_PER_YEAR
from contractor.engine.movement.schedule import next_reading
from contractor.engine.movement.verdict import SeriesVerdict, judge_series
from contractor.engine.units import System

_STEPS_IN = (1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0, 2.0, 4.0)
_STEPS_MM = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_MM = 25.4


def movement_svg(
    verdict: SeriesVerdict,
    *,
    due: date | None = None,
    canvas: CanvasName = "a4",
    system: System = "us",
    ident: str = "movement",
) -> str:
    """Return the chart of one series. ``due`` is the day of the next reading, if any."""
    return _Chart(verdict, due, CANVASES[canvas], system).draw(ident)


def movement_charts(
    document: object, *, canvas: CanvasName = "a4", system: System = "us"
) -> list[str]:
    """Return one chart per place of a ``movement/1`` document. Raises InputError."""
    case = read_case(document)
    found = []
    for number, series in enumerate(case.series, start=1):
        verdict = judge_series(series, case.policy)
        due, _ = next_reading(verdict, case.as_of, case.policy)
        ident = f"movement-{number}"
        found.append(movement_svg(verdict, due=due, canvas=canvas, system=system, ident=ident))
    return found


class _Chart:
    def __init__(
        self, verdict: SeriesVerdict, due: date | None, canvas: Canvas, system: System
    ) -> None:
        self.verdict, self.due, self.canvas, self.system = verdict, due, canvas, system
        self.svg = Svg()
        readings = verdict.series.readings
        self.first, self.last = readings[0].on, readings[-1].on
        end = max(self.last, due or self.last)
        margin = max(7, round((end - self.first).days * 0.03))
        self.start_day = (self.first - timedelta(days=margin)).toordinal()
        self.end_day = (end + timedelta(days=margin)).toordinal()
        self.low, self.high, self.step = self._value_axis()
        self.left = canvas.margin + (54.0 if system == "us" else 40.0)
        self.right = canvas.width - canvas.margin
        self.height = 300.0 if canvas.is_paper else 190.0
        self.top = 0.0

    # ------------------------------------------------------------ axes

    def _value_axis(self) -> tuple[float, float, float]:
        """Return lowest and highest value shown and the step, in inches."""
        values = self.verdict.series.values_in()
        low, high = min(values), max(values)
        pad = max((high - low) * 0.15, 1 / 16)
        low, high = low - pad, high + pad
        steps = [s / _MM for s in _STEPS_MM] if self.system == "si" else list(_STEPS_IN)
        wanted = (high - low) / 5
        step = next((s for s in steps if s >= wanted), steps[-1])
        return math.floor(low / step) * step, math.ceil(high / step) * step, step

    def _x(self, day: float) -> float:
        share = (day - self.start_day) / (self.end_day - self.start_day)
        return self.left + share * (self.right - self.left)

    def _y(self, value_in: float) -> float:
        share = (value_in - self.low) / (self.high - self.low)
        return self.top + self.height * (1.0 - share)

    def _value_text(self, value_in: float) -> str:
        if self.system == "si":
            return f"{value_in * _MM:.4g} mm"
        sixty_fourths = round(value_in * 64)
        sign = "-" if sixty_fourths < 0 else ""
        whole, rest = divmod(abs(sixty_fourths), 64)
        if not rest:
            return f"{sign}{whole} in"
        divisor = math.gcd(rest, 64)
        fraction = f"{rest // divisor}/{64 // divisor}"
        return f"{sign}{whole} {fraction} in" if whole else f"{sign}{fraction} in"

    def _draw_axes(self) -> None:
        svg, small = self.svg, self.canvas.small
        count = round((self.high - self.low) / self.step)
        for i in range(count + 1):
            value = self.low + i * self.step
            y = self._y(value)
            svg.line(self.left, y, self.right, y, "hair")
            text = self._value_text(value)
            svg.text(self.left - 6, y + small * 0.35, text, small, "soft", anchor="end")
        y = self.top + self.height
        svg.line(self.left, y, self.right, y, "line")
        last_end = 0.0
        for day, text in self._date_ticks():
            x, half = self._x(day), text_width(text, small) / 2
            svg.line(x, y, x, y + 4, "line")
            if x - half > last_end + 6 and x + half < self.canvas.width - 2:
                svg.text(x, y + small + 6, text, small, "soft", anchor="middle")
                last_end = x + half

    def _date_ticks(self) -> list[tuple[int, str]]:
        """Return the first days of months, as far apart as the span asks."""
        days = self.end_day - self.start_day
        every = next((n for n, most in ((1, 300), (3, 900), (6, 2000)) if days <= most), 12)
        first = date.fromordinal(self.start_day)
        found = []
        month = first.year * 12 + first.month - 1
        for index in range(month, month + days // 28 + 2):
            day = date(index // 12, index % 12 + 1, 1)
            if index % every == 0 and self.start_day <= day.toordinal() <= self.end_day:
                found.append((day.toordinal(), f"{day:%b} {day.year}"))
        return found

    # ------------------------------------------------------------ data

    def _draw_lines(self) -> None:
        """Draw band, least-squares line and Theil-Sen line over the readings' span."""
        fit, robust = self.verdict.fit, self.verdict.theil_sen
        if fit is None:
            return
        start, end = self.first.toordinal(), self.last.toordinal()
        days = [start + (end - start) * i / 24 for i in range(25)]
        years = [(day - start) / DAYS_PER_YEAR for day in days]
        sd = self.verdict.residual_sd_in
        if sd is not None:
            halves = [fit.band_half_width(year, sd) or 0.0 for year in years]
            upper = [
                (self._x(d), self._clipped(fit.at(t) + h))
                for d, t, h in zip(days, years, halves, strict=True)
            ]
            lower = [
                (self._x(d), self._clipped(fit.at(t) - h))
                for d, t, h in zip(days, years, halves, strict=True)
            ]
            self.svg.path([*upper, *reversed(lower)], "band", is_closed=True, band="confidence")
        ends = [(self._x(days[i]), self._clipped(fit.at(years[i]))) for i in (0, -1)]
        self.svg.path(ends, "accent-line", slope=f"{fit.slope:.9f}")
        if robust is not None:
            ends = [(self._x(days[i]), self._clipped(robust.at(years[i]))) for i in (0, -1)]
            self.svg.path(ends, "line dots", theil_sen=f"{robust.slope:.9f}")

    def _clipped(self, value_in: float) -> float:
        return self._y(min(max(value_in, self.low), self.high))

    def _draw_readings(self) -> None:
        for i, reading in enumerate(self.verdict.series.readings):
            x, y = self._x(reading.on.toordinal()), self._y(reading.value_in)
            if reading.resolution_in:
                half = reading.resolution_in / 2
                self.svg.line(
                    x,
                    self._clipped(reading.value_in + half),
                    x,
                    self._clipped(reading.value_in - half),
                    "thin",
                )
            is_off = i in self.verdict.outliers
            self.svg.circle(
                *(x, y, 4.4 if is_off else 3.2, "dot-off" if is_off else "dot"),
                on=reading.on.isoformat(),
                value=f"{reading.value_in:.6f}",
            )

    def _draw_due(self) -> None:
        if self.due is None or self.due <= self.last:
            return
        x = self._x(self.due.toordinal())
        self.svg.line(x, self.top, x, self.top + self.height, "thin dash")
        text = f"next {self.due.day} {self.due:%b} {self.due.year}"
        size = self.canvas.small
        self.svg.text(x - 4, self.top + size + 2, text, size, "soft", anchor="end")

    # ------------------------------------------------------------ sheet

    def draw(self, ident: str) -> str:
        canvas, svg = self.canvas, self.svg
        y = self._draw_words(canvas.margin)
        self.top = y + 18
        self._draw_axes()
        self._draw_lines()
        self._draw_readings()
        self._draw_due()
        y = self._draw_key(self.top + self.height + 2 * canvas.small + 14)
        series = self.verdict.series
        return svg.finish(
            *(canvas.width, y + canvas.margin),
            title=f"Movement of the wall: {self.verdict.verdict}",
            description=(
                f"{series.name}, {len(series.readings)} readings from {self.first.isoformat()} to "
                f"{self.last.isoformat()}. {self.verdict.reason}"
            ),
            ident=ident,
            verdict=self.verdict.verdict,
        )

    def _draw_words(self, y: float) -> float:
        """Write place, verdict and reason; return where they end."""
        canvas, svg, x = self.canvas, self.svg, self.canvas.margin
        y += canvas.title * 0.8
        moving = self.verdict.verdict == "moving in"
        words = self.verdict.verdict.capitalize()
        svg.text(x, y, words, canvas.title, "bold accent" if moving else "bold")
        y += canvas.text + 4
        name = self.verdict.series.name
        svg.text(x, y, name[0].upper() + name[1:], canvas.text, "soft")
        y += 2
        room = canvas.width - 2 * x
        for line in wrap(self.verdict.reason, canvas.small, room):
            y += canvas.small + 3.5
            svg.text(x, y, line, canvas.small)
        return y

    def _draw_key(self, y: float) -> float:
        """Write what the marks mean, and the cautions; return where they end."""
        canvas, svg, small = self.canvas, self.svg, self.canvas.small
        x = canvas.margin
        for symbol, words in self._key():
            width = 26 + text_width(words, small) + 14
            if x + width > canvas.width - canvas.margin and x > canvas.margin:
                x, y = canvas.margin, y + small + 6
            self._draw_key_symbol(symbol, x, y - small * 0.35)
            svg.text(x + 26, y, words, small, "soft")
            x += width
        for caution in self.verdict.cautions:
            for i, line in enumerate(wrap(caution, small, canvas.width - 2 * canvas.margin - 10)):
                y += small + (6 if i == 0 else 3)
                svg.text(canvas.margin + 10, y, line, small, "soft")
        return y

    def _key(self) -> list[tuple[str, str]]:
        found = [("dot", "reading")]
        if any(reading.resolution_in for reading in self.verdict.series.readings):
            found.append(("gauge", "step of the gauge"))
        if self.verdict.outliers:
            found.append(("dot-off", "far off the line"))
        if self.verdict.fit is not None:
            found.append(("fit", "least squares"))
        if self.verdict.residual_sd_in is not None:
            found.append(("band", "its confidence band"))
        if self.verdict.theil_sen is not None:
            found.append(("robust", "Theil-Sen"))
        return found

    def _draw_key_symbol(self, symbol: str, x: float, y: float) -> None:
        if symbol.startswith("dot"):
            self.svg.circle(x + 10, y, 3.2, symbol)
        elif symbol == "gauge":
            self.svg.line(x + 10, y - 5, x + 10, y + 5, "thin")
        elif symbol == "band":
            self.svg.rect(x + 1, y - 5, 19, 10, "band")
        else:
            css = "accent-line" if symbol == "fit" else "line dots"
            self.svg.line(x + 1, y, x + 20, y, css)
