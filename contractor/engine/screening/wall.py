"""The wall between two braces: a strip one foot high that spans horizontally.

Plain concrete: ACI 318 chapter 14, Mn = 5 sqrt(f'c) Sm, phi 0.60 (from memory, confirm). Block:
TMS 402 modulus of rupture parallel to the bed joints, phi 0.60 (from memory, confirm). The span
is taken brace to brace and simply supported, w L2 / 8: a cracked wall has lost its continuity.

Which strip? Concrete and grouted block: the lowest foot, where soil pushes hardest. Hollow
block cannot carry that strip sideways at any useful spacing (3 ft fails at 480 psf), and it does
not have to: its foot is held by slab and footing, and the courses below the crack lean between
the slab and the crack line. What must span between braces is the strip at the crack line, where
the wall has lost its bending strength up and down. So hollow block is judged there: at the
lowest recorded horizontal crack, or where the uncracked wall would be bent most, whichever is
lower and so more heavily pushed. The base strip is printed beside it. This is a judgement of
this service, not a clause; an engineer decides where the base course has slid or sheared.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from contractor.engine.data.basis import ASSUMED, MEASURED, MEMORY, PRACTICE
from contractor.engine.data.masonry import (
    MORTAR_TITLES,
    RUPTURE_CLAUSE,
    RUPTURE_PARALLEL_PSI,
    STRENGTH_REDUCTION,
    block_of_thickness,
)
from contractor.engine.screening.checks import Check, Number, Step, compare
from contractor.engine.screening.hardware import Assumptions
from contractor.engine.screening.loads import Layer, pressure_at
from contractor.engine.screening.statics import simply_supported

PHI_PLAIN_CONCRETE = 0.60
BASE_STRIP_IN = 6.0
CODE = "wall_between_braces"
TITLE = "Wall between braces"


def rupture_psi(fc_psi: float) -> float:
    """Return fr = 7.5 sqrt(f'c), ACI 318 19.2.3.1."""
    return 7.5 * math.sqrt(fc_psi)


def plain_concrete_psi(fc_psi: float) -> float:
    """Return the nominal bending stress of plain concrete, 5 sqrt(f'c), ACI 318 14.5.2.1."""
    return 5.0 * math.sqrt(fc_psi)


def solid_modulus_in3_per_ft(thickness_in: float) -> float:
    return 12 * thickness_in**2 / 6


def strip_moment_lbf_ft(pressure_psf: float, span_ft: float, divisor: float = 8.0) -> float:
    """Return the moment of a strip one foot high: 8 simply supported, 10 continuous."""
    return pressure_psf * span_ft**2 / divisor


def strip_stress_psi(moment_lbf_ft: float, modulus_in3_per_ft: float) -> float:
    return moment_lbf_ft * 12 / modulus_in3_per_ft


@dataclass(frozen=True)
class Panel:
    """Strength of one foot of wall: design stress in psi, section modulus in in3/ft."""

    kind: str
    modulus_in3_per_ft: float
    design_psi: float
    strip_in: float
    clause: str
    inputs: tuple[Number, ...]


def crack_line_in(
    layers: Sequence[Layer], span_in: float, crack_heights_in: Sequence[float]
) -> float:
    """Return the height at which a hollow block wall is judged, inches above the slab."""
    from contractor.engine.screening.loads import unit_segments

    bent_most = simply_supported(unit_segments(layers, span_in), span_in).moment.at_in
    return min((bent_most, *(height for height in crack_heights_in if height > 0)))


def panel_of(
    kind: str, thickness_in: float, assumptions: Assumptions, crack_in: float
) -> Panel | None:
    """Return the panel, None for a wall without a rule here (stone, brick, wood, odd block)."""
    thickness = Number("t", thickness_in, "in", MEASURED, "wall thickness")
    if kind == "poured_concrete":
        fc = assumptions.wall_fc_psi
        return Panel(
            kind,
            solid_modulus_in3_per_ft(thickness_in),
            PHI_PLAIN_CONCRETE * plain_concrete_psi(fc),
            BASE_STRIP_IN,
            "ACI 318-19 14.5.2.1",
            (thickness, Number("f'c", fc, "psi", ASSUMED, "wall concrete, plain")),
        )
    block = block_of_thickness(thickness_in)
    if block is None or kind not in ("hollow_block", "grouted_block"):
        return None
    is_hollow = kind == "hollow_block"
    fr = RUPTURE_PARALLEL_PSI["hollow" if is_hollow else "grouted"][assumptions.mortar]
    modulus = block.hollow_modulus_in3_per_ft if is_hollow else block.solid_modulus_in3_per_ft
    mortar = Number("fr", fr, "psi", ASSUMED, MORTAR_TITLES[assumptions.mortar] + " (assumed)")
    strip = crack_in if is_hollow else BASE_STRIP_IN
    return Panel(kind, modulus, STRENGTH_REDUCTION * fr, strip, RUPTURE_CLAUSE, (thickness, mortar))


def panel_check(panel: Panel, layers: Sequence[Layer], span_in: float, load_factor: float) -> Check:
    """Return the check of the strip between two braces ``span_in`` apart, psi."""
    pressure = pressure_at(layers, panel.strip_in)
    moment = strip_moment_lbf_ft(pressure, span_in / 12)
    stress = load_factor * strip_stress_psi(moment, panel.modulus_in3_per_ft)
    steps = (
        *_strip_steps(panel, layers, span_in, load_factor),
        Step(
            "φfn",
            "design bending stress",
            "{0}",
            (Number("φfn", panel.design_psi, "psi"),),
            panel.design_psi,
            "psi",
            panel.clause,
            MEMORY,
        ),
    )
    span = Number("s", span_in, "in", MEASURED, "brace to brace")
    return compare(
        CODE, TITLE, stress, panel.design_psi, "psi", panel.clause, steps, (span, *panel.inputs)
    )


def _strip_steps(
    panel: Panel, layers: Sequence[Layer], span_in: float, load_factor: float
) -> tuple[Step, ...]:
    is_hollow = panel.kind == "hollow_block"
    p = Number("p", pressure_at(layers, panel.strip_in), "psf")
    span = Number("s", span_in / 12, "ft", MEASURED)
    m = Number("M", strip_moment_lbf_ft(p.value, span.value), "lbf ft")
    section = Number("S", panel.modulus_in3_per_ft, "in3/ft")
    factor = Number("H factor", load_factor, "", MEMORY)
    stress = load_factor * strip_stress_psi(m.value, section.value)
    label = f"pressure at the {'crack line' if is_hollow else 'middle of the lowest foot'}"
    height, source = (Number("x", panel.strip_in, "in"),), "judgement of this service"
    diagram, bent, code = "pressure diagram at x = {0}", "{0} × {1} × 12 / {2}", "ACI 318-19 5.3.8"
    steps = (
        Step("p", label, diagram, height, p.value, "psf", source, PRACTICE),
        Step(
            "M",
            "moment of the strip, simply supported",
            "{0} × {1}² / 8",
            (p, span),
            m.value,
            "lbf ft",
            "statics",
        ),
        Step(
            "fu", "factored bending stress", bent, (factor, m, section), stress, "psi", code, MEMORY
        ),
    )
    base = (_base_strip_step(panel, layers, span, section, factor),) if is_hollow else ()
    return (*steps, *base)


def _base_strip_step(
    panel: Panel, layers: Sequence[Layer], span: Number, section: Number, factor: Number
) -> Step:
    base = Number("p base", pressure_at(layers, BASE_STRIP_IN), "psf")
    stress = strip_stress_psi(strip_moment_lbf_ft(base.value, span.value), panel.modulus_in3_per_ft)
    return Step(
        "fu base",
        "for the record: the lowest foot, which is held by slab and footing",
        "{0} × {1} × {2}² / 8 × 12 / {3}",
        (factor, base, span, section),
        factor.value * stress,
        "psi",
        "judgement of this service",
        PRACTICE,
    )
