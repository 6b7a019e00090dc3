"""Drawings to print: elevation pages and, for joists along the wall, the framing plan."""

from __future__ import annotations

from collections.abc import Sequence

from contractor.documents.sheet import Block, Break, Picture, Sheet


def render(name: str, elevations: Sequence[str], plans: Sequence[str] = ()) -> Sheet:
    """Return the sheet of a wall; each SVG fills one A4 page, landscape.

    ``elevations`` come from ``engine.drawing.elevation_pages``, ``plans`` from
    ``framing_plan_svg``.
    """
    pictures = [(svg, f"Wall elevation, page {i}") for i, svg in enumerate(elevations, start=1)]
    pictures += [(svg, "Framing plan") for svg in plans]
    blocks: list[Block] = []
    for svg, alt in pictures:
        if blocks:
            blocks.append(Break())
        blocks.append(Picture(svg, alt))
    return Sheet(f"Drawings: {name}", "", tuple(blocks), is_landscape=True)
