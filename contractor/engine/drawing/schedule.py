"""The brace schedule under an elevation, its title block, legend and cautions."""

from __future__ import annotations

from collections.abc import Sequence

from contractor.engine.drawing.canvas import Canvas, Scale, rounded, shown
from contractor.engine.drawing.lettering import text_width, wrap
from contractor.engine.drawing.svg import Svg
from contractor.engine.layout import Brace
from contractor.engine.layout.answer import show_length
from contractor.engine.survey import Survey
from contractor.engine.units import System, write_length

CAUTION = "Screening, not engineering design. Local code and a licensed engineer decide."
BOLD_WIDTH = 1.1  # of a bold line against a regular one
_A4_COLUMNS = (
    *(("Mark", 52.0), ("From left", 92.0), ("Cut length", 96.0), ("Joist", 84.0)),
    *(("Furring", 78.0), ("Length is", 84.0), ("Why here", 0.0)),
)
_PHONE_COLUMNS = (("Mark", 40.0), ("From left", 84.0), ("Cut length", 92.0), ("Joist", 0.0))


def draw_schedule(
    svg: Svg, canvas: Canvas, braces: Sequence[Brace], y: float, system: System
) -> float:
    """Draw one row per brace below ``y``; return where it ends."""
    if not braces:
        return y
    columns = _A4_COLUMNS if canvas.is_paper else _PHONE_COLUMNS
    x, size = canvas.margin, canvas.small
    for name, width in columns:
        svg.text(x, y, name, size, "soft")
        x += width
    y += 5
    svg.line(canvas.margin, y, canvas.width - canvas.margin, y, "line")
    for brace in braces:
        y = _draw_row(svg, canvas, brace, columns, y, system)
    return y


def _draw_row(
    svg: Svg,
    canvas: Canvas,
    brace: Brace,
    columns: Sequence[tuple[str, float]],
    y: float,
    system: System,
) -> float:
    size, step = canvas.small, canvas.small + 3.5
    y += size + 3.5
    cells = _cells(brace, system)
    notes = [remark.text(system) for remark in brace.because]
    x, below = canvas.margin, y
    with svg.group("row", row=brace.mark):
        for name, width in columns:
            room = width or canvas.width - canvas.margin - x
            words = " ".join(notes) if name == "Why here" else cells[name]
            for i, line in enumerate(wrap(words, size, room - 6)):
                css = "bold accent" if name == "Mark" else "bold" if name == "Cut length" else ""
                svg.text(x, y + i * step, line, size, css)
                below = max(below, y + i * step)
            x += width
        if not canvas.is_paper:
            below = _draw_phone_notes(svg, canvas, " ".join(notes), below)
    below += 4
    svg.line(canvas.margin, below, canvas.width - canvas.margin, below, "hair")
    return below


def _draw_phone_notes(svg: Svg, canvas: Canvas, words: str, y: float) -> float:
    size = canvas.small - 0.5
    x = canvas.margin + _PHONE_COLUMNS[0][1]
    for line in wrap(words, size, canvas.width - canvas.margin - x):
        y += size + 2.5
        svg.text(x, y, line, size, "soft")
    return y


def _cells(brace: Brace, system: System) -> dict[str, str]:
    joist = f"{brace.joist} {brace.side}" if brace.joist is not None else "backer"
    layers = brace.furring_layers
    return {
        "Mark": brace.mark,
        "From left": shown(rounded(brace.at_ticks, system), system),
        "Cut length": str(write_length(brace.beam_length_ticks, system)["text"]),
        "Joist": joist,
        "Furring": "" if not layers else f"{layers} layer{'s' if layers > 1 else ''}",
        "Length is": brace.basis,
    }


# ---------------------------------------------------------------- words


def wall_facts(survey: Survey, system: System) -> str:
    """Return what is known of the wall, fact by fact; a fact holds no breaking space."""
    wall, slab, soil = survey.wall, survey.slab, survey.soil
    facts = [f"{show_length(wall.length_ticks, system)} long"]
    if wall.kind:
        thick = wall.thickness_ticks
        size = f", {show_length(thick, system)} thick" if thick else ""
        facts.append(wall.kind.replace("_", " ") + size)
    if wall.fill_height_ticks is not None:
        facts.append(f"fill {show_length(wall.fill_height_ticks, system)}")
    if soil.uscs:
        facts.append(f"soil {soil.uscs}")
    elif soil.equivalent_fluid_psf_per_ft is not None:
        facts.append(f"soil {soil.equivalent_fluid_psf_per_ft:g} psf/ft")
    if slab.thickness_ticks:
        facts.append(f"slab {show_length(slab.thickness_ticks, system)}")
    if survey.framing.size:
        along = "along" if survey.framing.direction == "parallel" else "into"
        facts.append(f"{survey.framing.size} joists {along} the wall")
    return " · ".join(fact.replace(" ", "\u00a0") for fact in facts)


def unknowns(survey: Survey) -> list[str]:
    """Return what the survey leaves open, in the shop's words."""
    wall, slab = survey.wall, survey.slab
    open_facts = (
        ("wall kind", wall.kind),
        ("wall thickness", wall.thickness_ticks),
        ("fill height", wall.fill_height_ticks),
        ("soil", survey.soil.is_known or None),
        ("slab thickness", slab.thickness_ticks),
        ("slab edge", slab.edge_gap_ticks),
        ("water", survey.water_depth_ticks),
        ("joist species", survey.framing.species),
        ("joist centres", survey.framing.center_ticks or None),
        ("base slide", survey.distress.base_slide_ticks),
        ("settling", survey.distress.is_settling),
    )
    return [name for name, value in open_facts if value is None]


def draw_title(
    svg: Svg, canvas: Canvas, survey: Survey, scale: Scale, heading: str, system: System
) -> float:
    """Draw name, facts, unknowns and scale at the top; return where it ends."""
    x, top = canvas.margin, min(canvas.margin, 16.0) + canvas.title * 0.8
    room = canvas.width - 2 * canvas.margin - (190 if canvas.is_paper else 0)
    lines = wrap(survey.name or "Wall", canvas.title * BOLD_WIDTH, room)
    for i, line in enumerate(lines):
        svg.text(x, top + i * (canvas.title + 3), line, canvas.title, "bold")
    y = top + (len(lines) - 1) * (canvas.title + 3)
    if canvas.is_paper:
        right = canvas.width - canvas.margin
        svg.text(right, top, heading, canvas.text, "soft", anchor="end")
        svg.text(right, top + canvas.text + 4, scale.text, canvas.small, "soft", anchor="end")
    else:
        y += canvas.text + 3
        svg.text(x, y, heading, canvas.text, "soft")
    y += 3
    for line in wrap(wall_facts(survey, system), canvas.small, room):
        y += canvas.small + 3
        svg.text(x, y, line.strip("· "), canvas.small)
    if missing := unknowns(survey):
        for line in wrap("Not known: " + ", ".join(missing) + ".", canvas.small, room):
            y += canvas.small + 3
            svg.text(x, y, line, canvas.small, "bold accent")
    return y + 8


def draw_scale_bar(svg: Svg, canvas: Canvas, scale: Scale, x: float, y: float) -> None:
    """Draw a bar of feet, true at any print size."""
    foot = scale.per_tick * 768
    feet = next((n for n in (2, 4, 6, 8, 12, 20) if n * foot >= 44), 20)
    step = feet // 2
    for i in range(2):
        css = "bracket" if i == 0 else "void"
        svg.rect(x + i * step * foot, y, step * foot, 4, css, scale_feet=step)
    for n in (0, step, feet):
        svg.text(x + n * foot, y - 3, f"{n}", canvas.small - 1, "soft", anchor="middle")
    svg.text(x + feet * foot + 6, y + 4, "ft", canvas.small - 1, "soft")


def draw_notes(svg: Svg, canvas: Canvas, notes: Sequence[str], y: float) -> float:
    """Draw cautions beside an accent rule; return where they end."""
    size, room = canvas.small, canvas.width - 2 * canvas.margin - 12
    top = y
    y += 2
    for i, note in enumerate(notes):
        for line in wrap(note, size, room):
            y += size + 3
            svg.text(canvas.margin + 10, y, line, size, "bold" if i == 0 else "", note=i)
    svg.rect(canvas.margin, top + 3, 3, y - top, "beam")
    return y + 6


def legend_width(words: str, size: float) -> float:
    return 24 + text_width(words, size) + 16
