"""The framing plan where joists run along the wall: backers, staggered blocks, nails."""

from __future__ import annotations

from collections.abc import Sequence

from contractor.engine.drawing.backer_detail import detail_width, draw_detail
from contractor.engine.drawing.canvas import CANVASES, Canvas, CanvasName, Scale, scale_for
from contractor.engine.drawing.dimensions import draw_chain, draw_running
from contractor.engine.drawing.panel import OVERHANG_TICKS, Panel, Stretch, split_wall
from contractor.engine.drawing.schedule import CAUTION, draw_notes, draw_title
from contractor.engine.drawing.svg import Svg
from contractor.engine.errors import InputError
from contractor.engine.layout import Layout
from contractor.engine.materials.backer import BackerPlan, plan_backer
from contractor.engine.materials.hardware import Hardware
from contractor.engine.survey import Survey
from contractor.engine.units import System, format_length

BACKER_WIDTH_TICKS = 464
BLOCK_THICKNESS_TICKS = 96
_UNKNOWN_WALL_TICKS = 8 * 64


def framing_plan_svg(
    survey: Survey,
    layout: Layout,
    hardware: Hardware | None = None,
    *,
    canvas: CanvasName = "a4",
    system: System = "us",
    notes: Sequence[str] = (),
    ident: str = "plan",
) -> str:
    """Return the framing plan of a wall with joists along it. Raises InputError for others."""
    if survey.framing.direction != "parallel":
        raise InputError(
            "no_framing_plan",
            "/framing/joists",
            "Joists run into this wall, so it has no backers to draw.",
            "Draw the wall elevation instead.",
        )
    chosen = hardware or Hardware()
    plan = plan_backer(survey.framing, chosen, survey.framing.joist_thickness_ticks or 96)
    return _PlanSheet(survey, layout, plan, chosen, CANVASES[canvas], system).draw(notes, ident)


class _PlanSheet:
    def __init__(
        self,
        survey: Survey,
        layout: Layout,
        plan: BackerPlan,
        hardware: Hardware,
        canvas: Canvas,
        system: System,
    ) -> None:
        self.survey, self.layout, self.plan, self.hardware = survey, layout, plan, hardware
        self.canvas, self.system = canvas, system
        self.svg = Svg()

    def draw(self, notes: Sequence[str], ident: str) -> str:
        canvas, is_a4 = self.canvas, self.canvas.name == "a4"
        stretches = split_wall(self.survey, self.layout, canvas)
        longest = max(s.to_ticks - s.from_ticks for s in stretches)
        longest += 2 * OVERHANG_TICKS if len(stretches) > 1 else 0
        scale = scale_for(canvas, longest, detail_width(canvas) if is_a4 else 0.0)
        y = draw_title(
            *(self.svg, canvas, self.survey, scale, "Framing plan, joists along the wall"),
            self.system,
        )
        below = top = y + 18
        for stretch in stretches:
            below = self._draw_stretch(stretch, scale, below)
        detail_x = canvas.width - canvas.margin - detail_width(canvas) if is_a4 else canvas.margin
        detail_y = top if is_a4 else below + 6
        end = draw_detail(
            *(self.svg, canvas, self.plan, self.hardware, len(self.layout.braces)),
            *(detail_x, detail_y, self.system),
        )
        below = draw_notes(self.svg, canvas, [CAUTION, *self._notes(), *notes], max(below, end) + 8)
        return self.svg.finish(
            *(canvas.width, below + canvas.margin / 2),
            title=f"Framing plan at {self.survey.name or 'a wall'}",
            description=describe_plan(self.plan, self.hardware, len(self.layout.braces)),
            ident=ident,
            per_tick=f"{scale.per_tick:.9f}",
            wall=self.survey.wall.length_ticks,
        )

    def _notes(self) -> list[str]:
        if not self.plan.is_measured:
            spacing = format_length(self.hardware.assumed_joist_spacing_ticks)
            return [f"Joist centres not measured: drawn at {spacing}. Measure before sawing."]
        if self.plan.blocks and not self.plan.blocks[0].is_measured:
            return ["The bay at the rim is rarely the module: measure it before sawing its block."]
        return []

    # ------------------------------------------------------------ plan

    def _draw_stretch(self, stretch: Stretch, scale: Scale, y: float) -> float:
        canvas = self.canvas
        left = canvas.margin + (canvas.gutter / 2 if canvas.is_paper else canvas.gutter)
        panel = Panel(self.survey, stretch, canvas, scale, left)
        face = y + panel.size(self.survey.wall.thickness_ticks or _UNKNOWN_WALL_TICKS)
        with self.svg.group(
            "panel", start=panel.start, end=panel.end, left=f"{left:.2f}", face=f"{face:.2f}"
        ):
            self._draw_wall(panel, y, face)
            self._draw_joists(panel, face)
            for brace in self.layout.braces:
                if panel.holds(brace.at_ticks):
                    self._draw_backer(panel, brace.at_ticks, brace.mark, face)
        bottom = face + panel.size(self.plan.length_ticks) + 16
        return self._draw_chains(panel, bottom)

    def _draw_wall(self, panel: Panel, y: float, face: float) -> None:
        width = panel.size(panel.end - panel.start)
        self.svg.rect(panel.x(panel.start), y, width, face - y, "slab", part="wall")

    def _draw_joists(self, panel: Panel, face: float) -> None:
        thick = self.plan.joist_thickness_ticks
        width = panel.size(panel.end - panel.start)
        css = "wood" if self.plan.is_measured else "wood dash"
        for center in self.plan.joist_ticks:
            y = face + panel.size(center - thick / 2)
            deep = max(panel.size(thick), 1.6)
            self.svg.rect(panel.x(panel.start), y, width, deep, css, joist=center)

    def _draw_backer(self, panel: Panel, at: int, mark: str, face: float) -> None:
        """Draw a backer, its blocks seen through it, and the brace at the wall."""
        svg, x = self.svg, panel.x(at)
        half = panel.size(BACKER_WIDTH_TICKS) / 2
        with svg.group("backer-at", backer=mark, at=at):
            svg.rect(x - half, face, 2 * half, panel.size(self.plan.length_ticks), "backer")
            for block in self.plan.blocks:
                side = x + panel.size(block.stagger_ticks)
                wide = max(panel.size(BLOCK_THICKNESS_TICKS), 1.6)
                start = face + panel.size(max(block.from_ticks, 0))
                deep = panel.size(block.to_ticks - max(block.from_ticks, 0))
                svg.rect(side - wide / 2, start, wide, deep, "block", cut=block.cut_ticks)
            svg.rect(x - 3, face, 6, 6, "beam")
        radius = 10.0 if self.canvas.is_paper else 9.0
        y = face + panel.size(self.plan.length_ticks) + radius + 4
        svg.circle(x, y, radius, "dot-off")
        size = self.canvas.small if len(mark) < 3 else self.canvas.small - 1.5
        svg.text(x, y + size * 0.36, mark, size, "bold accent", anchor="middle")

    def _draw_chains(self, panel: Panel, y: float) -> float:
        stretch = panel.stretch
        inside = [
            brace.at_ticks
            for brace in self.layout.braces
            if stretch.from_ticks < brace.at_ticks < stretch.to_ticks
        ]
        places = [stretch.from_ticks, *inside, stretch.to_ticks]
        y = draw_chain(self.svg, panel, places, y + 28, "spacing", self.system)
        ends = [] if stretch.is_last else [stretch.to_ticks]
        if inside or ends:
            y = draw_running(self.svg, panel, [*inside, *ends], y + 15, self.system)
        return y + 14


def describe_plan(plan: BackerPlan, hardware: Hardware, backers: int) -> str:
    """Return the plan in words."""
    each = plan.fasteners(hardware.counts)
    return (
        f"Seen from above, wall at the top. {backers} backers of "
        f"{format_length(plan.length_ticks)} square to the wall cross {len(plan.joist_ticks)} "
        f"joists each; {len(plan.blocks)} staggered blocks a backer; {sum(each.values())} "
        f"{hardware.fastening} a backer."
    )
