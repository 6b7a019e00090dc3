"""What the ground asks of one brace: its span, its share of the wall, reactions and peaks."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from contractor.engine.data.basis import MEASURED
from contractor.engine.errors import InputError
from contractor.engine.screening.case import TICKS_PER_INCH, Case
from contractor.engine.screening.checks import Number, Step
from contractor.engine.screening.loads import unit_segments
from contractor.engine.screening.statics import Statics, simply_supported
from contractor.engine.survey import Survey


@dataclass(frozen=True)
class Demand:
    """What the ground asks of one brace (lbf, lbf in, in), with the height of each peak."""

    tributary_in: float
    span_in: float
    total_lbf: float
    top_lbf: float
    bottom_lbf: float
    shear_lbf: float
    moment_lbf_in: float
    moment_at_in: float
    ei_deflection_lbf_in3: float
    deflection_at_in: float
    steps: tuple[Step, ...]


def height_ticks(survey: Survey, at_ticks: int) -> float:
    """Return slab to subfloor at a position, linear between stations. Raises InputError."""
    stations = sorted(survey.stations, key=lambda station: station.at_ticks)
    for station in stations:
        if station.at_ticks == at_ticks:
            return float(station.height_ticks)
    for left, right in itertools.pairwise(stations):
        if left.at_ticks < at_ticks < right.at_ticks:
            share = (at_ticks - left.at_ticks) / (right.at_ticks - left.at_ticks)
            return left.height_ticks + share * (right.height_ticks - left.height_ticks)
    raise InputError(
        "position_outside_stations",
        "/braces",
        f"No height is measured around {at_ticks / TICKS_PER_INCH:g} in.",
        "Measure a station on each side of it.",
    )


def span_of_height(case: Case, height_in: float) -> float:
    """Return slab to the middle of the top bolts: joist middle, or underside of the backer."""
    rules = case.survey.rules
    depth = case.joist_depth_in
    if case.is_parallel:
        gap = (rules.top_gap_ticks + rules.backer_thickness_ticks) / TICKS_PER_INCH
        return height_in - (depth or 0.0) - gap
    if depth is not None:
        return height_in - depth / 2
    return height_in - rules.top_gap_ticks / TICKS_PER_INCH


def unit_statics(case: Case, span_in: float) -> Statics:
    """Return the statics per inch of tributary width."""
    return simply_supported(unit_segments(case.layers, span_in), span_in)


def demand(case: Case, span_in: float, tributary_in: float) -> Demand:
    """Return the demand on a brace; everything grows with the tributary width."""
    unit = unit_statics(case, span_in)
    return Demand(
        tributary_in,
        span_in,
        unit.total_lbf * tributary_in,
        unit.top_lbf * tributary_in,
        unit.bottom_lbf * tributary_in,
        abs(unit.shear.value) * tributary_in,
        unit.moment.value * tributary_in,
        unit.moment.at_in,
        unit.ei_deflection.value * tributary_in,
        unit.ei_deflection.at_in,
        _demand_steps(case, unit, tributary_in),
    )


def _demand_steps(case: Case, unit: Statics, tributary_in: float) -> tuple[Step, ...]:
    assert case.ground is not None
    fluid = case.ground.fluid
    fill = Number("h", case.ground.fill_in / 12, "ft", MEASURED, "fill above the slab")
    weight = Number("EFP", fluid.psf_per_ft, "psf/ft", fluid.basis)
    width = Number("s", tributary_in / 12, "ft", label="tributary width")
    base = Number("p base", case.layers[0].bottom_psf, "psf")
    is_plain = len(case.layers) == 1 and case.ground.surcharge_psf == 0
    pattern = "{0} × {1}" if is_plain else "layers of soil, water, surcharge: {0}, {1}"
    label, load = "load on the brace at the slab", base.value * width.value
    return (
        Step(
            base.symbol,
            "pressure at the slab",
            pattern,
            (weight, fill),
            base.value,
            "psf",
            fluid.clause,
            fluid.basis,
        ),
        Step("w base", label, "{0} × {1}", (base, width), load, "plf", "statics"),
        *_result_steps(unit, (base, width, Number("L", unit.span_in, "in")), tributary_in),
    )


def _result_steps(
    unit: Statics, numbers: tuple[Number, ...], tributary_in: float
) -> tuple[Step, ...]:
    """Return the lines of reactions and moment, from base pressure, width and span."""
    pattern = "{0}, {1}, {2} → closed form over the pressure diagram"
    highest = f"largest moment, {unit.moment.at_in:.2f} in above the slab"
    rows = (
        ("R top", "reaction at the top", unit.top_lbf, "lbf"),
        ("R base", "reaction at the base", unit.bottom_lbf, "lbf"),
        ("M", highest, unit.moment.value / 1000, "kip in"),
    )
    return tuple(
        Step(symbol, label, pattern, numbers, value * tributary_in, unit_name, "statics")
        for symbol, label, value, unit_name in rows
    )
