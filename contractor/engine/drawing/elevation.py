"""The wall elevation as SVG: to scale, dimensioned so that chains add up, own look."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from contractor.engine.drawing.braces import BeamLook, braces_on, draw_braces, draw_marks
from contractor.engine.drawing.canvas import CANVASES, Canvas, CanvasName, Scale, scale_for
from contractor.engine.drawing.dimensions import draw_chain, draw_running
from contractor.engine.drawing.legend import draw_legend
from contractor.engine.drawing.lettering import Box, Places
from contractor.engine.drawing.panel import (
    OVERHANG_TICKS,
    Panel,
    Stretch,
    height_near,
    split_wall,
)
from contractor.engine.drawing.schedule import (
    CAUTION,
    draw_notes,
    draw_schedule,
    draw_title,
    wall_facts,
)
from contractor.engine.drawing.structure import (
    draw_distress,
    draw_features,
    draw_ground,
    draw_wall,
    label_features,
    label_readings,
    unplaced_cracks,
)
from contractor.engine.drawing.svg import Svg
from contractor.engine.layout import Brace, Layout
from contractor.engine.layout.answer import show_length
from contractor.engine.survey import Survey
from contractor.engine.units import System, write_length

#: What an A4 sheet on its side has above its foot line, in drawing units.
PAGE_HEIGHT = 706.0


def elevation_svg(
    survey: Survey,
    layout: Layout,
    *,
    canvas: CanvasName = "a4",
    system: System = "us",
    flange_in: float = 2.66,
    notes: Sequence[str] = (),
    is_bare: bool = False,
    ident: str = "elevation",
) -> str:
    """Return the elevation of one wall as an SVG document.

    ``flange_in`` is the width of the beam's flange, ``notes`` are sentences to print under it,
    such as reasons for an engineer's review. ``is_bare`` leaves out title, schedule and
    cautions, for a sheet that carries them itself. Root data attributes give the scale.
    """
    sheet = _Sheet(survey, layout, CANVASES[canvas], system, BeamLook(flange_in))
    if is_bare:
        return sheet.draw_bare(ident)
    return sheet.draw(sheet.stretches, layout.braces, notes, ident)


def elevation_pages(
    survey: Survey,
    layout: Layout,
    *,
    system: System = "us",
    flange_in: float = 2.66,
    notes: Sequence[str] = (),
) -> list[str]:
    """Return the elevation as A4 landscape pages.

    One page where it fits, at the next smaller scale if need be; else panels, then rows.
    """
    look = BeamLook(flange_in)

    def page(
        stretches: Sequence[Stretch], braces: Sequence[Brace], number: int, smaller: int = 0
    ) -> tuple[str, float]:
        sheet = _Sheet(survey, layout, CANVASES["a4"], system, look, smaller)
        svg = sheet.draw(stretches, braces, notes, f"page-{number}")
        return svg, sheet.height

    whole = split_wall(survey, layout, CANVASES["a4"])
    for smaller in (0, 1):
        svg, height = page(whole, layout.braces, 1, smaller)
        if height <= PAGE_HEIGHT:
            return [svg]
    return _many_pages(whole, layout.braces, page)


def _many_pages(
    whole: Sequence[Stretch],
    braces: Sequence[Brace],
    page: Callable[[Sequence[Stretch], Sequence[Brace], int], tuple[str, float]],
) -> list[str]:
    """Return panels, two a page where they fit, then pages of the schedule."""
    pages: list[str] = []
    panels, rows = list(whole), list(braces)
    while panels or rows:
        taken = (panels[:2], []) if panels else ([], rows)
        svg, height = page(*taken, len(pages) + 1)
        while height > PAGE_HEIGHT and len(taken[0]) + len(taken[1]) > 1:
            taken = (taken[0][:-1], taken[1][:-1])
            svg, height = page(*taken, len(pages) + 1)
        pages.append(svg)
        panels, rows = panels[len(taken[0]) :], rows[len(taken[1]) :]
    return pages


class _Sheet:
    def __init__(
        self,
        survey: Survey,
        layout: Layout,
        canvas: Canvas,
        system: System,
        look: BeamLook,
        smaller: int = 0,
    ) -> None:
        self.survey, self.layout, self.canvas = survey, layout, canvas
        self.system, self.look, self.smaller = system, look, smaller
        self.svg = Svg()
        self.stretches = split_wall(survey, layout, canvas)
        self.height = 0.0
        self.keys: dict[str, str] = {}
        self.left_over = unplaced_cracks(survey)

    def draw(
        self,
        stretches: Sequence[Stretch],
        braces: Sequence[Brace],
        notes: Sequence[str],
        ident: str,
    ) -> str:
        """Return a drawing of some panels and some rows of the schedule."""
        scale = self._scale()
        y = draw_title(
            *(self.svg, self.canvas, self.survey, scale, "Wall elevation, from inside"),
            self.system,
        )
        y = self._draw_panels(stretches, scale, y)
        y = draw_schedule(self.svg, self.canvas, braces, y + 22, self.system)
        y = draw_notes(self.svg, self.canvas, self._notes(notes), y + 8)
        return self._finish(scale, y, ident)

    def draw_bare(self, ident: str) -> str:
        """Return the panels and the legend alone, with the key of what had no room."""
        scale = self._scale()
        y = self._draw_panels(self.stretches, scale, 0.0)
        if notes := self._key_notes():
            y = draw_notes(self.svg, self.canvas, notes, y + 4)
        return self._finish(scale, y, ident)

    def _draw_panels(self, stretches: Sequence[Stretch], scale: Scale, y: float) -> float:
        x = self.canvas.margin + self.canvas.gutter
        for stretch in stretches:
            y = self._draw_panel(Panel(self.survey, stretch, self.canvas, scale, x), y)
        if stretches:
            y = draw_legend(self.svg, self.canvas, self.survey, self.layout, scale, y + 4)
        return y

    def _finish(self, scale: Scale, y: float, ident: str) -> str:
        self.height = y + self.canvas.margin / 2 + 2
        return self.svg.finish(
            *(self.canvas.width, self.height),
            title=f"Elevation of {self.survey.name or 'a wall'}",
            description=describe(self.survey, self.layout, self.system),
            ident=ident,
            per_tick=f"{scale.per_tick:.9f}",
            wall=self.survey.wall.length_ticks,
            canvas=self.canvas.name,
        )

    def _scale(self) -> Scale:
        longest = max(s.to_ticks - s.from_ticks for s in self.stretches)
        if len(self.stretches) > 1:
            longest += 2 * OVERHANG_TICKS
        return scale_for(self.canvas, longest, smaller=self.smaller)

    def _notes(self, notes: Sequence[str]) -> list[str]:
        found = [CAUTION, *notes]
        if (report := self.layout.no_answer) is not None:
            found.append(
                f"No layout: {show_length(report.from_ticks, self.system)} to "
                f"{show_length(report.to_ticks, self.system)} from the left corner cannot be "
                "bridged."
            )
            found += [remark.text(self.system) for remark in report.would_help]
        return found + self._key_notes()

    def _key_notes(self) -> list[str]:
        names = [f"{key} {words}" for words, key in self.keys.items()] + self.left_over
        return [f"Also on the wall: {', '.join(names)}."] if names else []

    # ------------------------------------------------------------ one panel

    def _draw_panel(self, panel: Panel, y: float) -> float:
        """Draw a panel below ``y``; return where it ends."""
        tallest = max(height for _, height in panel.floor_points())
        head = 2 * self.canvas.small + 16
        panel.slab_y = y + head + panel.size(tallest)
        svg = self.svg
        with svg.group(
            "panel",
            start=panel.start,
            end=panel.end,
            left=f"{panel.left_x:.2f}",
            slab=f"{panel.slab_y:.2f}",
        ):
            draw_wall(svg, panel)
            draw_features(svg, panel)
            draw_distress(svg, panel, self.system)
            self._draw_no_answer(panel)
            draw_braces(svg, panel, self.layout, self.look)
            draw_ground(svg, panel, self.system)
            label_readings(svg, panel, self.system, self.left_over)
            label_features(svg, panel, self.keys)
            self._draw_head(panel)
            return self._draw_foot(panel)

    def _draw_no_answer(self, panel: Panel) -> None:
        report = self.layout.no_answer
        cut = panel.clipped(report.from_ticks, report.to_ticks) if report else None
        if cut is not None:
            top = panel.y(panel.wall_top(height_near(self.survey.stations, cut[0])))
            width = panel.size(cut[1] - cut[0])
            self.svg.rect(panel.x(cut[0]), top, width, panel.slab_y - top, "band", gap=cut[0])

    def _draw_head(self, panel: Panel) -> None:
        """Write joist numbers just above the floor and the measured heights above them."""
        svg, small = self.svg, self.canvas.small
        braced = {b.joist for b in braces_on(self.layout, panel)}
        free = Places(Box(0, 0, self.canvas.width, 1e9))
        centers = self.survey.framing.center_ticks
        numbered = list(enumerate(centers, start=1)) if self._has_joist_ends() else []
        for joist, center in sorted(numbered, key=lambda item: (item[0] not in braced, item)):
            if not panel.holds(center):
                continue
            x, y = panel.x(center), panel.y(height_near(self.survey.stations, center)) - 5
            if free.find(f"{joist} ", small - 1.5, [(x, y)]) is not None:
                css = "bold" if joist in braced else "soft"
                svg.text(x, y, f"{joist}", small - 1.5, css, anchor="middle")
        self._draw_heights(panel)

    def _has_joist_ends(self) -> bool:
        return self.survey.framing.direction == "perpendicular"

    def _draw_heights(self, panel: Panel) -> None:
        small = self.canvas.small
        free = Places(Box(2, 0, self.canvas.width - 2, 1e9))
        for station in self.survey.stations:
            if not panel.holds(station.at_ticks):
                continue
            words = str(write_length(station.height_ticks, self.system)["text"])
            x = panel.x(station.at_ticks)
            floor = panel.y(station.height_ticks)
            y = floor - small - 9
            spots = [(x + dx, y) for dx in (0, 14, -14, 24, -24)]
            if (spot := free.find(words, small, spots)) is not None:
                self.svg.line(x, floor - 1, x, y + 3, "hair")
                self.svg.text(
                    *(*spot, words, small), "soft", anchor="middle", height=station.height_ticks
                )

    def _draw_foot(self, panel: Panel) -> float:
        """Draw marks and dimension chains under the slab."""
        slab = panel.size(self.survey.slab.thickness_ticks or 4 * 64)
        y = panel.slab_y + slab + 16
        draw_marks(self.svg, panel, self.layout, y)
        stretch = panel.stretch
        inside = [
            brace.at_ticks
            for brace in self.layout.braces
            if stretch.from_ticks < brace.at_ticks < stretch.to_ticks
        ]
        places = [stretch.from_ticks, *inside, stretch.to_ticks]
        y = draw_chain(self.svg, panel, places, y + 27, "spacing", self.system)
        ends = [] if stretch.is_last else [stretch.to_ticks]
        if inside or ends:
            y = draw_running(self.svg, panel, [*inside, *ends], y + 15, self.system)
        if inside and stretch.is_first and stretch.is_last:
            y = draw_chain(self.svg, panel, [places[0], places[-1]], y + 19, "overall", self.system)
        return y + 8


def describe(survey: Survey, layout: Layout, system: System) -> str:
    """Return the drawing in words, for those who do not see it."""
    words = [f"Wall seen from inside: {wall_facts(survey, system)}."]
    for brace in layout.braces:
        at = show_length(brace.at_ticks, system)
        cut = show_length(brace.beam_length_ticks, system)
        words.append(f"Brace {brace.mark} stands {at} from the left corner, beam {cut}.")
    if layout.no_answer is not None:
        words.append("No brace layout was found.")
    words += [f"{feature.kind.capitalize()}: {feature.label}." for feature in survey.features]
    return " ".join(words)
