"""The wall elevation as DXF, full size in inches, for offices that draw on; an optional extra."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from typing import Any

from contractor.engine.drawing.canvas import chain_texts
from contractor.engine.drawing.panel import height_near
from contractor.engine.drawing.schedule import CAUTION
from contractor.engine.drawing.structure import CRACK_HALF_TICKS
from contractor.engine.errors import InputError
from contractor.engine.layout import Layout
from contractor.engine.survey import Survey
from contractor.engine.units import TICKS_PER_INCH, System

_LAYERS = {
    "WALL": 7,
    "SLAB": 8,
    "FRAMING": 32,
    "FEATURES": 5,
    "GROUND": 9,
    "CRACKS": 1,
    "BRACES": 30,
    "DIMENSIONS": 8,
    "TEXT": 7,
}
_TEXT_IN = 3.0


def elevation_dxf(
    survey: Survey, layout: Layout, *, flange_in: float = 2.66, system: System = "us"
) -> str:
    """Return DXF R2010 text, 1 unit = 1 in, origin at the wall's left corner on the slab.

    Raises InputError when the drawing extra is not installed.
    """
    try:
        from ezdxf.filemanagement import new
    except ImportError as error:
        raise InputError(
            "dxf_not_installed",
            "",
            "DXF needs the library ezdxf, which is not installed here.",
            "Install the extra named drawing, or take the SVG.",
        ) from error
    with _without_dates():
        document = new("R2010", units=1)
        for name, color in _LAYERS.items():
            document.layers.add(name, color=color)
        drawing = _Drawing(document.modelspace(), survey, layout, flange_in)
        drawing.draw_wall()
        drawing.draw_features()
        drawing.draw_braces()
        drawing.draw_dimensions(system)
        stream = io.StringIO()
        document.write(stream)
    return stream.getvalue()


@contextmanager
def _without_dates() -> Iterator[None]:
    """Keep dates and random ids out of the file: the same drawing, the same bytes."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _inches(ticks: float) -> float:
    return ticks / TICKS_PER_INCH


class _Drawing:
    def __init__(self, space: Any, survey: Survey, layout: Layout, flange_in: float) -> None:
        self.space, self.survey, self.layout, self.flange_in = space, survey, layout, flange_in
        self.length = survey.wall.length_ticks

    def _box(self, left: float, bottom: float, right: float, top: float, layer: str) -> None:
        """Draw a closed rectangle; arguments in ticks."""
        corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
        points = [(_inches(x), _inches(y)) for x, y in corners]
        self.space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})

    def _line(self, start: tuple[float, float], end: tuple[float, float], layer: str) -> None:
        points = [(_inches(x), _inches(y)) for x, y in (start, end)]
        self.space.add_line(*points, dxfattribs={"layer": layer})

    def _text(self, words: str, x: float, y: float, layer: str = "TEXT") -> None:
        text = self.space.add_text(words, height=_TEXT_IN, dxfattribs={"layer": layer})
        text.dxf.insert = (_inches(x), _inches(y))

    def draw_wall(self) -> None:
        survey, stations = self.survey, self.survey.stations
        depth = survey.framing.joist_depth_ticks or 0
        places = sorted({0, self.length, *(s.at_ticks for s in stations)})
        floor = [(at, height_near(stations, at)) for at in places]
        outline = [(0.0, 0.0), *((at, h - depth) for at, h in floor), (self.length, 0.0)]
        points = [(_inches(x), _inches(y)) for x, y in outline]
        self.space.add_lwpolyline(points, close=True, dxfattribs={"layer": "WALL"})
        for left, right in pairwise(floor):
            self._line(left, right, "FRAMING")
        if survey.framing.direction == "perpendicular":
            half = (survey.framing.joist_thickness_ticks or 96) / 2
            for center in survey.framing.center_ticks:
                height = height_near(stations, center)
                self._box(center - half, height - depth, center + half, height, "FRAMING")
        if survey.slab.thickness_ticks:
            self._box(0, -survey.slab.thickness_ticks, self.length, 0, "SLAB")
        if survey.wall.fill_height_ticks is not None:
            fill = survey.wall.fill_height_ticks
            self._line((0, fill), (self.length, fill), "GROUND")

    def draw_features(self) -> None:
        for feature in self.survey.features:
            low = feature.bottom_ticks or 0
            top = feature.top_ticks
            if top is None:
                top = int(height_near(self.survey.stations, feature.from_ticks))
            self._box(feature.from_ticks, low, feature.to_ticks, top, "FEATURES")
            self._text(feature.label, feature.from_ticks, top + 64, "FEATURES")
        for crack in self.survey.distress.cracks:
            if crack.at_ticks is None or crack.height_ticks is None:
                continue
            across = CRACK_HALF_TICKS if crack.kind != "vertical" else 0
            up = 0 if crack.kind == "horizontal" else CRACK_HALF_TICKS
            start = (crack.at_ticks - across, crack.height_ticks - up)
            self._line(start, (crack.at_ticks + across, crack.height_ticks + up), "CRACKS")

    def draw_braces(self) -> None:
        half = self.flange_in * TICKS_PER_INCH / 2
        for brace in self.layout.braces:
            at = brace.at_ticks
            self._box(at - half, 0, at + half, brace.beam_length_ticks, "BRACES")
            self._text(brace.mark, at - 128, -12 * 64, "BRACES")

    def draw_dimensions(self, system: System) -> None:
        places = [0, *(brace.at_ticks for brace in self.layout.braces), self.length]
        y = -24 * 64
        self._line((0, y), (self.length, y), "DIMENSIONS")
        for place in places:
            self._line((place, y - 64), (place, y + 64), "DIMENSIONS")
        texts = chain_texts(places, system)
        for start, end, words in zip(places, places[1:], texts, strict=False):
            self._text(words, (start + end) / 2 - 8 * 64, y + 96, "DIMENSIONS")
        self._text(CAUTION, 0, y - 8 * 64)
