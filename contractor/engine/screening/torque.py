"""Torque of the tightening bolt: the force it makes, and how much the wall's fixings allow.

T = K D F, K 0.20 dry and 0.15 lubricated, scatter about 30 % (read). The bolt presses the head
of the beam against the wall. A bowed wall touches the beam at one height only, so the beam
bends over that point and its foot pushes on the base anchors (statics; judgement). Strength is
held against the upper end of the scatter. Tightening passes within minutes and relaxes as wood
and wall creep, so wood takes the ten-minute load duration (judgement, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

from contractor.engine.screening.hardware import Tightening


def bolt_force_lbf(torque_lbf_ft: float, diameter_in: float, friction: float) -> float:
    """Return F = T / (K D)."""
    return torque_lbf_ft * 12 / (friction * diameter_in)


def force_range_lbf(torque_lbf_ft: float, bolt: Tightening) -> tuple[float, float, float]:
    """Return lowest, nominal and highest force of the scatter."""
    nominal = bolt_force_lbf(torque_lbf_ft, bolt.diameter_in, bolt.friction)
    return nominal * (1 - bolt.scatter), nominal, nominal * (1 + bolt.scatter)


def torque_for_force_lbf_ft(force_lbf: float, bolt: Tightening) -> float:
    """Return the torque whose highest force is ``force_lbf``."""
    return force_lbf / (1 + bolt.scatter) * bolt.friction * bolt.diameter_in / 12


@dataclass(frozen=True)
class ForceLimit:
    """The head force that one limit state allows, and the torque that makes it at most."""

    code: str
    title: str
    force_lbf: float
    torque_lbf_ft: float
    clause: str


@dataclass(frozen=True)
class TorqueLimit:
    """``allowed_lbf_ft`` is whole; None where nothing could be computed."""

    allowed_lbf_ft: int | None
    company_lbf_ft: float
    governs: str
    limits: tuple[ForceLimit, ...]
    note: str


def head_force_of_moment(moment_lbf_in: float, span_in: float, contact_in: float) -> float:
    """Return the head force at which the beam over its contact point reaches a moment."""
    return moment_lbf_in / (span_in - contact_in)


def head_force_of_base(reaction_lbf: float, span_in: float, contact_in: float) -> float:
    """Return the head force at which the foot reaches a reaction: F (L / x - 1) = R."""
    return reaction_lbf / (span_in / contact_in - 1)


def torque_limit(
    limits: list[tuple[str, str, float, str]], bolt: Tightening, note: str
) -> TorqueLimit:
    """Return the torque that every (code, title, head force, clause) allows, rounded down."""
    made = tuple(
        ForceLimit(code, title, force, torque_for_force_lbf_ft(force, bolt), clause)
        for code, title, force, clause in limits
    )
    if not made:
        return TorqueLimit(None, bolt.torque_lbf_ft, "not computed", (), note)
    least = min(made, key=lambda limit: limit.torque_lbf_ft)
    if least.torque_lbf_ft >= bolt.torque_lbf_ft:
        return TorqueLimit(int(bolt.torque_lbf_ft), bolt.torque_lbf_ft, "company", made, note)
    return TorqueLimit(int(least.torque_lbf_ft), bolt.torque_lbf_ft, least.code, made, note)
