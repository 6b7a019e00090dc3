"""What the crew brings: wrenches, bits and drivers, sized by the hardware of the job."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from contractor.engine.data.fasteners import BOLTS, LARGE_HOLE_CONFLICT
from contractor.engine.data.wrenches import (
    ANCHOR_HOLE_EXTRA_IN,
    ANCHOR_SOURCE,
    HOLE_SOURCE,
    WOOD_HOLE_OVERSIZE_IN,
    WOOD_HOLE_SOURCE,
    WRENCH_SOURCE,
)
from contractor.engine.materials.work import Line, TakeOff
from contractor.engine.units import TICKS_PER_INCH

PRACTICE = "common practice"


@dataclass(frozen=True)
class Tool:
    tool: str
    size: str
    use: str
    source: str


def inch_text(inches: Fraction) -> str:
    """Return a fraction as the trade writes it: 1-1/8 in."""
    whole, rest = divmod(inches, 1)
    parts = [str(whole)] if whole else []
    if rest:
        parts.append(f"{rest.numerator}/{rest.denominator}")
    return f"{'-'.join(parts) or '0'} in"


def tools_for(takeoff: TakeOff) -> list[Tool]:
    """Return the tools and bits for a job, each with the source of its size."""
    if not takeoff.job_lines:
        return []
    found: list[Tool] = []
    seen: set[str] = set()
    for line in takeoff.lines:
        if line.part.code not in seen:
            seen.add(line.part.code)
            found += _tools_of(line)
    torque = f"{takeoff.hardware.torque_lbf_ft:g} lbf ft"
    found.append(Tool("torque wrench", f"reads {torque}", "tightening bolts", PRACTICE))
    found.append(Tool("metal saw or band saw", "-", "trimming a beam on site", PRACTICE))
    found.append(Tool("level, 4 ft", "-", "plumbing the beam", PRACTICE))
    unique = {(t.tool, t.size, t.use): t for t in found}
    return [unique[key] for key in sorted(unique)]


def _tools_of(line: Line) -> list[Tool]:
    role, diameter = line.part.role, _inches(line.part.diameter_ticks)
    if role == "tightening_bolt":
        return _wrenches(diameter, "tightening bolt", pair=False)
    if role == "through_bolt":
        hole = diameter + WOOD_HOLE_OVERSIZE_IN
        wood = Tool("wood bit", inch_text(hole), "through bolts, in wood", WOOD_HOLE_SOURCE)
        return [*_wrenches(diameter, "through bolts", pair=True), wood, *_steel_bit(diameter)]
    if role == "anchor":
        return _anchor_tools(line, diameter)
    if role == "nail":
        return [Tool("hammer or nailer", "16d", "backer and blocking", PRACTICE)]
    if role == "screw":
        return [Tool("impact driver", "hex socket of the screw", "backer and blocking", PRACTICE)]
    if role == "sealant":
        return [Tool("cartridge gun", "10 oz", "sealing holes", PRACTICE)]
    return []


def _inches(ticks: int | None) -> Fraction:
    return Fraction(ticks or 0, TICKS_PER_INCH)


def _wrenches(diameter: Fraction, use: str, pair: bool) -> list[Tool]:
    size = BOLTS.get(diameter)
    if size is None:
        return []
    tools = [Tool("wrench, bolt head", inch_text(size.hex_head_in), use, WRENCH_SOURCE)]
    if pair:
        tools.append(Tool("wrench, nut", inch_text(size.hex_nut_in), use, WRENCH_SOURCE))
    return tools


def _steel_bit(diameter: Fraction) -> list[Tool]:
    size = BOLTS.get(diameter)
    if size is None:
        return []
    drilled = size.standard_hole_in
    hole = LARGE_HOLE_CONFLICT if drilled is None else inch_text(drilled)
    return [Tool("steel bit", hole, "through bolts, in the bracket", HOLE_SOURCE)]


def _anchor_tools(line: Line, diameter: Fraction) -> list[Tool]:
    depth = _inches(line.part.embedment_ticks) + ANCHOR_HOLE_EXTRA_IN
    size = BOLTS.get(diameter)
    bit = f"{inch_text(diameter)}, hole {inch_text(depth)} deep"
    tools = [
        Tool("rotary hammer with masonry bit", bit, "anchors", ANCHOR_SOURCE),
        Tool(
            "shroud with dust extractor",
            "filter 99 % or better",
            "drilling concrete",
            "OSHA 29 CFR 1926.1153 Table 1 (vii)",
        ),
    ]
    if size is not None:
        tools.append(Tool("wrench, nut", inch_text(size.hex_nut_in), "anchors", WRENCH_SOURCE))
    return tools
