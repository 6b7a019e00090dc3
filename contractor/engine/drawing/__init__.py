"""Drawings as SVG (and DXF): wall elevation, framing plan, movement chart."""

from contractor.engine.drawing.chart import movement_charts, movement_svg
from contractor.engine.drawing.dxf import elevation_dxf
from contractor.engine.drawing.elevation import elevation_pages, elevation_svg
from contractor.engine.drawing.plan import framing_plan_svg

__all__ = [
    "elevation_dxf",
    "elevation_pages",
    "elevation_svg",
    "framing_plan_svg",
    "movement_charts",
    "movement_svg",
]
