"""One backer enlarged: joist centres as a chain, block lengths, where the nails go."""

from __future__ import annotations

from itertools import pairwise

from contractor.engine.drawing.canvas import Canvas, chain_texts
from contractor.engine.drawing.lettering import Box, Places, text_width, wrap
from contractor.engine.drawing.svg import Svg
from contractor.engine.layout.answer import show_length
from contractor.engine.materials.backer import BackerPlan, Block
from contractor.engine.materials.hardware import Hardware
from contractor.engine.units import System

_BACKER_WIDTH_TICKS = 464
_BLOCK_THICKNESS_TICKS = 96
#: Drawing units to a foot in the detail; along and across the backer alike.
_FOOT_UNITS = 42.0


def detail_width(canvas: Canvas) -> float:
    return 336.0 if canvas.is_paper else canvas.width - 2 * canvas.margin


def draw_detail(
    svg: Svg,
    canvas: Canvas,
    plan: BackerPlan,
    hardware: Hardware,
    backers: int,
    x: float,
    y: float,
    system: System,
) -> float:
    """Draw the detail with its top left at (x, y); return where it ends."""
    svg.text(x, y + canvas.text, "One backer, seen from above", canvas.text, "bold")
    face = y + canvas.text + 20
    middle = x + 122
    with svg.group("detail", face=f"{face:.2f}", per_tick=f"{_FOOT_UNITS / 768:.9f}"):
        _draw_parts(svg, canvas, plan, middle, face)
        _draw_joist_chain(svg, canvas, plan, x + 54, face, system)
        for block in plan.blocks:
            _label_block(svg, canvas, block, middle, face, system)
    below = face + _size(plan.length_ticks) + canvas.text + 12
    return _draw_nails(svg, canvas, plan, hardware, backers, (x, below))


def _size(ticks: float) -> float:
    return ticks / 768 * _FOOT_UNITS


def _draw_parts(svg: Svg, canvas: Canvas, plan: BackerPlan, middle: float, face: float) -> None:
    half = _size(_BACKER_WIDTH_TICKS) / 2
    svg.rect(middle - 50, face - 9, 120, 9, "slab")
    svg.text(middle + 74, face - 1, "wall", canvas.small, "soft")
    for center in plan.joist_ticks:
        thick = _size(plan.joist_thickness_ticks)
        css = "wood" if plan.is_measured else "wood dash"
        svg.rect(middle - 50, face + _size(center) - thick / 2, 120, thick, css)
    svg.rect(middle - half, face, 2 * half, _size(plan.length_ticks), "backer")
    for block in plan.blocks:
        side = middle + _size(block.stagger_ticks)
        wide = _size(_BLOCK_THICKNESS_TICKS)
        top = face + _size(max(block.from_ticks, 0))
        svg.rect(side - wide / 2, top, wide, face + _size(block.to_ticks) - top, "block")
    svg.rect(middle - 4, face, 8, 8, "beam")


def _draw_joist_chain(
    svg: Svg, canvas: Canvas, plan: BackerPlan, x: float, face: float, system: System
) -> None:
    """Dimension the joist centres from the wall, turned to run along the backer."""
    places = sorted({0, *plan.joist_ticks, plan.length_ticks})
    svg.line(x, face, x, face + _size(plan.length_ticks), "thin")
    for place in places:
        y = face + _size(place)
        svg.line(x - 4, y, x + 4, y, "thin")
        svg.line(x - 2.4, y + 2.4, x + 2.4, y - 2.4, "line")
    size = canvas.small
    free = Places(Box(0, 0, canvas.width, 1e9))
    for (start, end), text in zip(pairwise(places), chain_texts(places, system), strict=True):
        y = face + (_size(start) + _size(end)) / 2
        if _size(end - start) > text_width(text, size) + 2:
            svg.text(
                *(x - 5, y, text, size),
                anchor="middle",
                turn=-90,
                dim="joist",
                start=start,
                end=end,
            )
            free.take(Box(x - 5 - size, y - _size(end - start) / 2, x, face + _size(end)))
            continue
        # Too short for its words: beside the line, or as near above or below as there is room.
        aside = x - 7 - text_width(text, size - 1) / 2
        rows = [y + size * (0.35 + move) for move in (0, 1, -1, 2, -2, 3, -3, 4, -4)]
        spot = free.find(text, size - 1, [(aside, row) for row in rows]) or (aside, y)
        svg.text(*spot, text, size - 1, anchor="middle", dim="joist", start=start, end=end)


def _label_block(
    svg: Svg, canvas: Canvas, block: Block, middle: float, face: float, system: System
) -> None:
    y = face + _size(max(block.from_ticks, 0) + block.to_ticks) / 2 + canvas.small * 0.35
    words = f"block {show_length(block.cut_ticks, system)}"
    svg.line(middle + 16, y - 3, middle + 76, y - 3, "hair")
    svg.text(
        middle + 80,
        y,
        words,
        canvas.small,
        "" if block.is_measured else "accent bold",
        block=block.cut_ticks,
    )
    if not block.is_measured:
        svg.text(middle + 80, y + canvas.small + 2, "measure first", canvas.small, "accent")


def _draw_nails(
    svg: Svg,
    canvas: Canvas,
    plan: BackerPlan,
    hardware: Hardware,
    backers: int,
    at: tuple[float, float],
) -> float:
    """Write the nails of one backer and of the wall; return where the words end."""
    x, y = at
    counts, each = hardware.counts, plan.fasteners(hardware.counts)
    kind = "16d common nails" if hardware.fastening == "nails" else "structural screws"
    rows = [
        (each["block_ends"], f"in block ends, {counts.per_block_end} an end"),
        (each["backer_to_blocks"], f"up into blocks, {counts.per_block_through_backer} a block"),
        (each["backer_to_joists"], f"up into joists, {counts.per_joist_through_backer} a joist"),
    ]
    svg.text(x, y, f"{kind.capitalize()}, per backer", canvas.text, "bold")
    for number, words in rows:
        y += canvas.small + 5
        svg.text(x + 24, y, f"{number}", canvas.small, "bold", anchor="end")
        svg.text(x + 30, y, words, canvas.small)
    total = sum(each.values())
    words = f"{total} a backer, {total * backers} on this wall with {backers} backers."
    y += 3
    for line in wrap(words, canvas.small, detail_width(canvas) - 10):
        y += canvas.small + 4
        svg.text(x, y, line, canvas.small, "bold", nails=total, backers=backers)
    return y + 6
