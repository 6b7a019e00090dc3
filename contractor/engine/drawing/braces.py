"""Braces on an elevation: beam, brackets, furring, backer end, and the mark under it."""

from __future__ import annotations

from dataclasses import dataclass

from contractor.engine.drawing.lettering import Box
from contractor.engine.drawing.panel import Panel
from contractor.engine.drawing.svg import Svg
from contractor.engine.layout import Brace, Layout

#: For looks only; the maker's drawings hold the true brackets.
_BRACKET_TICKS = (5 * 64, 4 * 64)
_BACKER_WIDTH_TICKS = 464
_FURRING_2X4_TICKS = 224
_FURRING_2X6_TICKS = 352
_LEAST_BEAM_UNITS = 3.2


@dataclass(frozen=True)
class BeamLook:
    flange_in: float = 2.66

    @property
    def flange_ticks(self) -> float:
        return self.flange_in * 64

    @property
    def furring_ticks(self) -> int:
        return _FURRING_2X4_TICKS if self.flange_ticks <= _FURRING_2X4_TICKS else _FURRING_2X6_TICKS


def braces_on(layout: Layout, panel: Panel) -> list[Brace]:
    return [brace for brace in layout.braces if panel.holds(brace.at_ticks)]


def draw_braces(svg: Svg, panel: Panel, layout: Layout, look: BeamLook) -> None:
    for brace in braces_on(layout, panel):
        with svg.group(
            "brace",
            mark=brace.mark,
            at=brace.at_ticks,
            beam=brace.beam_length_ticks,
        ):
            _draw_brace(svg, panel, brace, look)


def _draw_brace(svg: Svg, panel: Panel, brace: Brace, look: BeamLook) -> None:
    x, top = panel.x(brace.at_ticks), panel.y(brace.beam_length_ticks)
    height = panel.size(brace.beam_length_ticks)
    if brace.furring_layers:
        wide = max(panel.size(look.furring_ticks), _LEAST_BEAM_UNITS + 4)
        svg.rect(x - wide / 2, top, wide, height, "wood", furring=brace.furring_layers)
    width = max(panel.size(look.flange_ticks), _LEAST_BEAM_UNITS)
    svg.rect(x - width / 2, top, width, height, "beam", beam=brace.mark)
    wide, tall = (max(panel.size(t), 5.0) for t in _BRACKET_TICKS)
    is_parallel = panel.survey.framing.direction == "parallel"
    svg.rect(x - wide / 2, top if is_parallel else top - tall / 2, wide, tall, "bracket")
    if is_parallel:
        _draw_backer_end(svg, panel, brace)
    svg.rect(x - wide / 2, panel.slab_y - tall, wide, tall, "bracket")
    panel.places.take(Box(x - wide / 2 - 1, top - tall, x + wide / 2 + 1, panel.slab_y))


def _draw_backer_end(svg: Svg, panel: Panel, brace: Brace) -> None:
    """Draw the end of the backer under the joists, right above the beam's gap."""
    rules = panel.survey.rules
    bottom = brace.beam_length_ticks + rules.top_gap_ticks
    svg.rect(
        *(panel.x(brace.at_ticks - _BACKER_WIDTH_TICKS / 2),),
        panel.y(bottom + rules.backer_thickness_ticks),
        panel.size(_BACKER_WIDTH_TICKS),
        max(panel.size(rules.backer_thickness_ticks), 2.5),
        "backer",
        backer=brace.mark,
    )


def draw_marks(svg: Svg, panel: Panel, layout: Layout, y: float) -> None:
    """Write each mark in a ring under its brace."""
    for brace in braces_on(layout, panel):
        x = panel.x(brace.at_ticks)
        radius = 10.0 if panel.canvas.is_paper else 9.0
        svg.line(x, panel.slab_y, x, y - radius, "accent-line")
        svg.circle(x, y, radius, "dot-off")
        size = panel.canvas.small if len(brace.mark) < 3 else panel.canvas.small - 1.5
        svg.text(x, y + size * 0.36, brace.mark, size, "bold accent", anchor="middle")
