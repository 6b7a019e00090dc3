"""Sizes of a drawing: A4 landscape in a named scale, or a phone's width."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from contractor.engine.units import System, format_length

CanvasName = Literal["a4", "column", "phone"]


@dataclass(frozen=True)
class Canvas:
    """``unit_mm`` is what one drawing unit measures on paper, None on screens.

    ``text`` and ``small`` are font sizes in drawing units; ``gutter`` is the room left and right
    of a wall for height dimensions; ``longest_ft`` what one panel shows at most.
    """

    name: CanvasName
    width: float
    margin: float
    gutter: float
    text: float
    small: float
    title: float
    unit_mm: float | None
    longest_ft: float

    @property
    def is_paper(self) -> bool:
        return self.unit_mm is not None


A4 = Canvas("a4", 1080.0, 26.0, 64.0, 12.0, 10.5, 19.0, 297.0 / 1080.0, 37.0)
PHONE = Canvas("phone", 360.0, 10.0, 14.0, 12.0, 10.5, 16.0, None, 25.0)
#: The text column of an upright A4 sheet, 178 mm, at the same size of unit as A4.
COLUMN = Canvas("column", 647.0, 2.0, 40.0, 12.0, 10.5, 16.0, 297.0 / 1080.0, 40.0)
CANVASES: dict[CanvasName, Canvas] = {"a4": A4, "column": COLUMN, "phone": PHONE}

#: Inches of paper for a foot of wall, and how the trade writes it.
_SCALES: tuple[tuple[Fraction, str], ...] = (
    (Fraction(1, 2), "1/2 in = 1 ft"),
    (Fraction(3, 8), "3/8 in = 1 ft"),
    (Fraction(1, 4), "1/4 in = 1 ft"),
    (Fraction(3, 16), "3/16 in = 1 ft"),
    (Fraction(1, 8), "1/8 in = 1 ft"),
)


@dataclass(frozen=True)
class Scale:
    """``per_tick`` drawing units for a tick; ``text`` names a paper scale, "" on screens."""

    per_tick: float
    text: str


def scale_for(canvas: Canvas, longest_ticks: int, aside: float = 0.0, smaller: int = 0) -> Scale:
    """Return the largest named scale at which ``longest_ticks`` fits the canvas.

    ``aside`` is room kept for something beside the wall; ``smaller`` takes a scale so many steps
    below the largest, so that a page holds more. Screens, and walls too long for every
    named scale, are fitted to the width.
    """
    room = canvas.width - 2 * canvas.margin - 2 * canvas.gutter - aside
    fitted = room / longest_ticks
    if canvas.unit_mm is None:
        return Scale(min(fitted, room / (12 * 768)), "")
    named = [
        Scale(float(inches_per_foot) * 25.4 / canvas.unit_mm / 768, f"{text} at A4")
        for inches_per_foot, text in _SCALES
    ]
    if fitting := [scale for scale in named if scale.per_tick <= fitted]:
        return fitting[min(smaller, len(fitting) - 1)]
    return Scale(fitted, "not to a named scale")


# ---------------------------------------------------------------- dimensions that add up


def rounded(ticks: int, system: System) -> int:
    """Return whole sixteenths or millimetres, halves up: what a dimension shows."""
    size = Fraction(ticks, 4) if system == "us" else Fraction(ticks * 127, 320)
    return int((2 * size + 1) // 2)


def shown(parts: int, system: System) -> str:
    """Return text of whole sixteenths (feet and inches) or of whole millimetres."""
    return format_length(parts * 4) if system == "us" else f"{parts} mm"


def chain_texts(places: list[int], system: System) -> list[str]:
    """Return the dimension texts between ``places`` (ticks), rounded so that they add up.

    The places are rounded, not the distances: the sum of the dimensions is then always the
    rounded distance from end to end.
    """
    marks = [rounded(place, system) for place in places]
    return [shown(b - a, system) for a, b in pairwise(marks)]
