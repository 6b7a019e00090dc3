"""Where things fall on one panel of a wall elevation: ticks to drawing units, cut at its ends."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from contractor.engine.drawing.canvas import Canvas, Scale
from contractor.engine.drawing.lettering import Box, Places
from contractor.engine.layout import Layout
from contractor.engine.survey import Station, Survey

#: Beyond a panel's end the wall goes on this far, so that the brace there is seen whole.
OVERHANG_TICKS = 6 * 64


@dataclass(frozen=True)
class Stretch:
    """A panel shows ``from_ticks`` to ``to_ticks``; braces at its ends belong to both panels."""

    from_ticks: int
    to_ticks: int
    is_first: bool
    is_last: bool


def split_wall(survey: Survey, layout: Layout, canvas: Canvas) -> list[Stretch]:
    """Return the panels of a wall, cut at braces so that no spacing is broken."""
    length = survey.wall.length_ticks
    count = max(1, -(-length // int(canvas.longest_ft * 768)))
    cuts = [0]
    for i in range(1, count):
        ideal = length * i // count
        places = [b.at_ticks for b in layout.braces if cuts[-1] < b.at_ticks < length]
        cuts.append(min(places, key=lambda place: abs(place - ideal)) if places else ideal)
    cuts = sorted({*cuts, length})
    return [Stretch(a, b, a == 0, b == length) for a, b in pairwise(cuts)]


class Panel:
    """One stretch of wall on the sheet; ``slab_y`` is the top of the slab."""

    def __init__(
        self, survey: Survey, stretch: Stretch, canvas: Canvas, scale: Scale, left_x: float
    ) -> None:
        self.survey = survey
        self.stretch = stretch
        self.canvas = canvas
        self.scale = scale
        self.start = max(0, stretch.from_ticks - (0 if stretch.is_first else OVERHANG_TICKS))
        self.end = min(
            survey.wall.length_ticks,
            stretch.to_ticks + (0 if stretch.is_last else OVERHANG_TICKS),
        )
        self.left_x = left_x
        self.slab_y = 0.0
        self.places = Places(Box(0, 0, canvas.width, 1e9))

    def x(self, at_ticks: float) -> float:
        return self.left_x + (at_ticks - self.start) * self.scale.per_tick

    def y(self, height_ticks: float) -> float:
        return self.slab_y - height_ticks * self.scale.per_tick

    def size(self, ticks: float) -> float:
        return ticks * self.scale.per_tick

    def holds(self, at_ticks: int) -> bool:
        return self.start <= at_ticks <= self.end

    def clipped(self, from_ticks: int, to_ticks: int) -> tuple[int, int] | None:
        """Return what of a length lies on this panel, None when nothing does."""
        low, high = max(from_ticks, self.start), min(to_ticks, self.end)
        return (low, high) if low < high else None

    def floor_points(self) -> list[tuple[int, float]]:
        """Return (at, height) of the subfloor's underside from end to end of the panel."""
        stations = self.survey.stations
        inside = [(s.at_ticks, float(s.height_ticks)) for s in stations if self.holds(s.at_ticks)]
        ends = [(at, height_near(stations, at)) for at in (self.start, self.end)]
        return sorted({*inside, *ends})

    def wall_top(self, height: float) -> float:
        """Return the height of the wall's top below a floor ``height`` ticks up."""
        return height - (self.survey.framing.joist_depth_ticks or 0)


def height_near(stations: tuple[Station, ...], at_ticks: int) -> float:
    """Return the subfloor's height, linear between stations and level beyond the outer ones.

    For drawing only: a beam is never cut by a height beyond the stations.
    """
    if at_ticks <= stations[0].at_ticks:
        return stations[0].height_ticks
    for left, right in pairwise(stations):
        if at_ticks <= right.at_ticks:
            share = (at_ticks - left.at_ticks) / (right.at_ticks - left.at_ticks)
            return left.height_ticks + share * (right.height_ticks - left.height_ticks)
    return stations[-1].height_ticks
