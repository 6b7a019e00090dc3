"""The checks of one brace: its beam, its head and its foot; and of the wall beside it."""

from __future__ import annotations

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
from contractor.engine.screening.brace_load import Demand
from contractor.engine.screening.case import TICKS_PER_INCH, Case
from contractor.engine.screening.checks import Check, not_computed


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
    limits = _head_limits(case)
    if case.kit.is_gap_packed:
        words = "the gap between beam and wall is packed over its height"
        return torque.torque_limit(limits, case.kit.tightening, words)
    at, words = contact_in(case, span_in)
    strength = steel.bending(case.shape, case.grade, span_in).allowable * 1000
    force = torque.head_force_of_moment(strength, span_in, at)
    title = "beam over its contact point"
    limits.append(("beam_bending", title, force, "AISC 360-16 F2, F3"))
    if case.slab is not None:
        factor = case.assumptions.load_factor
        foot = anchor_strength.allowed_shear_lbf(case.kit.anchors, case.slab, factor)
        force = torque.head_force_of_base(foot, span_in, at)
        title = "base anchors against the beam's foot"
        limits.append(("base_anchors", title, force, "ACI 318-19 ch. 17"))
    return torque.torque_limit(limits, case.kit.tightening, words)


def _head_limits(case: Case) -> list[tuple[str, str, float, str]]:
    """Return (code, title, head force, clause) of the top bolts and their washers."""
    if case.member is None:
        return []
    group = case.kit.bolts
    held = bolts.strength(group, case.member, wood.TEN_MINUTES).total_lbf
    pull = bolts.washer_tension_lbf(1.0, bracket_offset_in(case), group)
    room = bolts.washer_capacity_lbf(group, case.member.species.bearing_psi)
    return [
        ("top_bolts", "top bolts, ten-minute load", held, "NDS 2018 12.3"),
        ("washer_bearing", "plate washer on the wood", room / pull, "NDS 2018 3.10.2"),
    ]
