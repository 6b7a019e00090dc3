"""Dimension chains: ticks on a line, texts above it, and sums that are exact."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from contractor.engine.drawing.canvas import chain_texts, rounded, shown
from contractor.engine.drawing.lettering import Box, Places, text_box
from contractor.engine.drawing.panel import Panel
from contractor.engine.drawing.svg import Svg
from contractor.engine.units import System


def draw_chain(
    svg: Svg, panel: Panel, places: Sequence[int], y: float, kind: str, system: System
) -> float:
    """Draw a chain of dimensions along ``places`` at ``y``; return the lowest point used.

    Each dimension carries its true ends (data-start, data-end, in ticks) and its text.
    """
    texts = chain_texts(list(places), system)
    size = panel.canvas.small
    svg.line(panel.x(places[0]), y, panel.x(places[-1]), y, "thin")
    for place in places:
        x = panel.x(place)
        svg.line(x, y - 4, x, y + 4, "thin")
        svg.line(x - 2.4, y + 2.4, x + 2.4, y - 2.4, "line")
    free = Places(Box(0, 0, panel.canvas.width, 1e9))
    lowest = y + 4
    for (start, end), text in zip(pairwise(places), texts, strict=True):
        middle = (panel.x(start) + panel.x(end)) / 2
        spot = _spot_for(text, size, middle, y, panel.x(end) - panel.x(start), free)
        svg.text(*spot, text, size, anchor="middle", dim=kind, start=start, end=end)
        lowest = max(lowest, spot[1] + 0.25 * size)
    return lowest


def _spot_for(
    text: str, size: float, middle: float, y: float, room: float, free: Places
) -> tuple[float, float]:
    """Return where a dimension's text goes: above its line, else below it, ever lower."""
    rows = [y - 4] if text_box(0, 0, text, size).right < room - 4 else []
    rows += [y + 4 + (size + 1.5) * row for row in range(1, 9)]
    edge = free.frame.right
    for row in rows:
        box = text_box(middle, row, text, size, "middle")
        shift = max(2 - box.left, 0) - max(box.right - edge + 2, 0)
        box = Box(box.left + shift - 2, box.top, box.right + shift + 2, box.bottom)
        if not any(box.meets(other) for other in free.taken):
            free.take(box)
            return middle + shift, row
    return middle, rows[-1]


def draw_running(svg: Svg, panel: Panel, places: Sequence[int], y: float, system: System) -> float:
    """Write the distance from the left corner under each place; return the lowest point used."""
    size = panel.canvas.small
    free = Places(Box(0, 0, panel.canvas.width, 1e9))
    lowest = y
    for place in places:
        text = shown(rounded(place, system), system)
        x = panel.x(place)
        spot = _spot_for(text, size, x, y - size - 5.5, 0.0, free)
        svg.line(x, y - size - 4, x, spot[1] - 0.85 * size, "hair")
        svg.text(*spot, text, size, "soft", anchor="middle", running=place)
        lowest = max(lowest, spot[1] + 0.25 * size)
    return lowest
