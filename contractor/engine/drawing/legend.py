"""The legend of an elevation: only what is on the drawing."""

from __future__ import annotations

from contractor.engine.drawing.canvas import Canvas, Scale
from contractor.engine.drawing.schedule import draw_scale_bar, legend_width
from contractor.engine.drawing.svg import Svg
from contractor.engine.layout import Layout
from contractor.engine.survey import Survey


def legend_items(survey: Survey, layout: Layout) -> list[tuple[str, str]]:
    """Return (symbol, words) for everything that is drawn."""
    kinds = {feature.kind for feature in survey.features}
    found = [
        ("beam", "brace", bool(layout.braces)),
        ("furring", "furring behind it", any(b.furring_layers for b in layout.braces)),
        ("backer", "backer", survey.framing.direction == "parallel" and bool(layout.braces)),
        ("joist", "joist and floor", True),
        ("void", "opening", "opening" in kinds),
        ("thing", "on the wall", bool(kinds & {"fixture", "line"})),
        ("ground", "ground outside", survey.wall.fill_height_ticks is not None),
        ("crack", "crack, length not to scale", bool(survey.distress.cracks)),
        ("reading", "inward reading", bool(survey.distress.readings)),
        ("band", "cannot be bridged", layout.no_answer is not None),
    ]
    return [(symbol, words) for symbol, words, is_drawn in found if is_drawn]


def draw_legend(
    svg: Svg, canvas: Canvas, survey: Survey, layout: Layout, scale: Scale, y: float
) -> float:
    """Draw the legend and the scale bar below ``y``; return where they end."""
    y += canvas.small
    x, step = canvas.margin, canvas.small + 6
    foot = scale.per_tick * 768
    bar_room = 20 * foot if foot < 5 else max(100.0, 4 * foot + 24)
    right = canvas.width - canvas.margin - (bar_room if canvas.is_paper else 0)
    for symbol, words in legend_items(survey, layout):
        width = legend_width(words, canvas.small)
        if x + width > right and x > canvas.margin:
            x, y = canvas.margin, y + step
        _draw_symbol(svg, symbol, x, y - canvas.small * 0.35)
        svg.text(x + 22, y, words, canvas.small, "soft")
        x += width
    if canvas.is_paper:
        draw_scale_bar(svg, canvas, scale, right + 8, y - 5)
        return y
    draw_scale_bar(svg, canvas, scale, canvas.margin + 4, y + step + 4)
    return y + step + 8


def _draw_symbol(svg: Svg, symbol: str, x: float, y: float) -> None:
    if symbol in ("beam", "void", "thing", "band"):
        css = {"beam": "beam", "void": "void", "thing": "thing", "band": "band"}[symbol]
        svg.rect(x + (6 if symbol == "beam" else 2), y - 5, 4 if symbol == "beam" else 13, 10, css)
    elif symbol in ("joist", "furring"):
        svg.rect(x + 4, y - 5, 9, 10, "wood")
        if symbol == "furring":
            svg.rect(x + 6.5, y - 5, 4, 10, "beam")
    elif symbol == "backer":
        svg.rect(x + 2, y - 2, 13, 5, "backer")
    elif symbol == "ground":
        svg.line(x, y, x + 17, y, "line dash")
    elif symbol == "reading":
        svg.circle(x + 8, y, 2.4, "dot")
    else:
        points = [(x + 3 * i, y + (1.6 if i % 2 else -1.6)) for i in range(6)]
        svg.path(points, "accent-line")
