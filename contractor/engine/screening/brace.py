"""The checks of one brace: its load, its beam, its head and its foot."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from contractor.engine.errors import InputError
from contractor.engine.screening import (
    anchor_strength,
    anchors,
    bolts,
    nails,
    steel,
    torque,
    wall,
    wood,
)
from contractor.engine.screening.case import TICKS_PER_INCH, Case
from contractor.engine.screening.checks import Check, Number, Step, not_computed
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
    width = Number("s", tributary_in / 12, "ft", label="tributary width")
    base_psf = Number("p base", case.layers[0].bottom_psf, "psf")
    span = Number("L", unit.span_in, "in")
    h = Number("h", case.ground.fill_in / 12, "ft", "measured", "fill above the slab")
    efp = Number("EFP", fluid.psf_per_ft, "psf/ft", fluid.basis)
    is_plain = len(case.layers) == 1 and case.ground.surcharge_psf == 0
    pattern = "{0} × {1}" if is_plain else "layers of soil, water, surcharge: {0}, {1}"
    clause = fluid.clause
    form = "closed form over the pressure diagram"

    def line(symbol: str, label: str, value: float, unit_name: str) -> Step:
        return Step(
            symbol,
            label,
            "{0}, {1}, {2} → " + form,
            (base_psf, width, span),
            value,
            unit_name,
            "statics",
        )

    return (
        Step(
            "p base",
            "pressure at the slab",
            pattern,
            (efp, h),
            base_psf.value,
            "psf",
            clause,
            fluid.basis,
        ),
        Step(
            "w base",
            "load on the brace at the slab",
            "{0} × {1}",
            (base_psf, width),
            base_psf.value * width.value,
            "plf",
            "statics",
        ),
        line("R top", "reaction at the top", unit.top_lbf * tributary_in, "lbf"),
        line("R base", "reaction at the base", unit.bottom_lbf * tributary_in, "lbf"),
        line(
            "M",
            f"largest moment, {unit.moment.at_in:.2f} in above the slab",
            unit.moment.value * tributary_in / 1000,
            "kip in",
        ),
    )


def brace_checks(case: Case, found: Demand) -> tuple[Check, ...]:
    """Return every check of a brace in the order of the sheet."""
    return (*beam_checks(case, found), *head_checks(case, found), *foot_checks(case, found))


def beam_checks(case: Case, found: Demand) -> tuple[Check, ...]:
    ratio = case.assumptions.deflection_ratio
    shape, grade = case.shape, case.grade
    return (
        steel.bending_check(found.moment_lbf_in, shape, grade, found.span_in),
        steel.shear_check(found.shear_lbf, shape, grade),
        steel.deflection_check(found.ei_deflection_lbf_in3, shape, found.span_in, ratio),
    )


def bracket_offset_in(case: Case) -> float:
    """Return beam centre to the middle of the wood that holds the bolts."""
    if case.is_parallel:
        return case.kit.backer.thickness_in / 2 + case.kit.bolts.plate_in
    return case.survey.rules.bracket_offset_ticks / TICKS_PER_INCH


def head_checks(case: Case, found: Demand) -> tuple[Check, ...]:
    if case.member is None:
        reason = "no rule for bolts in this kind of joist"
        return (not_computed("top_bolts", "Top bolts", "NDS 2018", reason),)
    kit = case.kit
    made = [
        bolts.shear_check(found.top_lbf, kit.bolts, case.member),
        bolts.washer_check(found.top_lbf, bracket_offset_in(case), kit.bolts, case.member),
    ]
    if case.is_parallel:
        made.append(
            nails.group_check(
                found.top_lbf,
                kit.backer,
                case.species,
                case.joists_crossed,
                is_species_known=case.member.is_species_known,
                is_measured=bool(case.survey.framing.center_ticks),
            )
        )
    return tuple(made)


def foot_checks(case: Case, found: Demand) -> tuple[Check, ...]:
    if case.slab is None:
        reason = "the slab is missing or its thickness is not known"
        return (not_computed("base_anchors", "Base anchors", "ACI 318-19 ch. 17", reason),)
    factor = case.assumptions.load_factor
    return anchors.checks(found.bottom_lbf, case.kit.anchors, case.slab, factor)


def bay_check(case: Case, bay_in: float, span_in: float) -> Check:
    """Return the check of the wall over one bay between braces."""
    panel = case.panel(span_in)
    if panel is None:
        return not_computed(
            wall.CODE,
            wall.TITLE,
            "ACI 318-19, TMS 402-16",
            "wall kind, thickness or load is not known or has no rule",
        )
    return wall.panel_check(panel, case.layers, bay_in, case.assumptions.load_factor)


def contact_in(case: Case, span_in: float) -> tuple[float, str]:
    """Return where the bowed wall touches the beam, and the words that say so."""
    heights = [
        (reading.inward_ticks, reading.height_ticks / TICKS_PER_INCH)
        for reading in case.survey.distress.readings
        if 0 < reading.height_ticks / TICKS_PER_INCH < span_in
    ]
    if heights and max(heights)[0] > 0:
        at = max(heights)[1]
        return at, f"the wall touches the beam at its largest reading, {at:.4g} in above the slab"
    return span_in / 2, "no readings: the wall is taken to touch the beam at mid-height"


def torque_limit(case: Case, span_in: float) -> torque.TorqueLimit:
    """Return the torque that head, beam and foot allow (see ``torque``)."""
    limits: list[tuple[str, str, float, str]] = []
    if case.member is not None:
        held = bolts.strength(case.kit.bolts, case.member, wood.TEN_MINUTES).total_lbf
        limits.append(("top_bolts", "top bolts, ten-minute load", held, "NDS 2018 12.3"))
        pull = bolts.washer_tension_lbf(1.0, bracket_offset_in(case), case.kit.bolts)
        room = bolts.washer_capacity_lbf(case.kit.bolts, case.member.species.bearing_psi)
        limits.append(
            ("washer_bearing", "plate washer on the wood", room / pull, "NDS 2018 3.10.2")
        )
    if case.kit.is_gap_packed:
        return torque.torque_limit(
            limits, case.kit.tightening, "the gap between beam and wall is packed over its height"
        )
    at, words = contact_in(case, span_in)
    strength = steel.bending(case.shape, case.grade, span_in).allowable * 1000
    limits.append(
        (
            "beam_bending",
            "beam over its contact point",
            torque.head_force_of_moment(strength, span_in, at),
            "AISC 360-16 F2, F3",
        )
    )
    if case.slab is not None:
        foot = anchor_strength.allowed_shear_lbf(
            case.kit.anchors, case.slab, case.assumptions.load_factor
        )
        limits.append(
            (
                "base_anchors",
                "base anchors against the beam's foot",
                torque.head_force_of_base(foot, span_in, at),
                "ACI 318-19 ch. 17",
            )
        )
    return torque.torque_limit(limits, case.kit.tightening, words)
