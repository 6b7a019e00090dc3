"""Strength of post-installed anchors, ACI 318-19 chapter 17. lbf, in, psi.

Equations read in a published design guide to ACI 318-19 ch. 17 (October 2025); strength
reductions and the embedment limit of thin slabs from memory, confirm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from contractor.engine.data.basis import MEASURED, Basis
from contractor.engine.screening.hardware import BaseAnchors

KC_POST_INSTALLED = 17.0
KC_CAST_IN = 24.0
PHI_CONCRETE_SHEAR = 0.70
PHI_CONCRETE_TENSION = 0.65
PHI_STEEL_SHEAR = 0.60  # brittle steel, without the maker's data
PHI_STEEL_TENSION = 0.65
MIN_SLAB_IN = 3.5


def embedment_limit_in(slab_in: float) -> float:
    """Return the deepest embedment of expansion anchors in a thin slab, 17.9.4 (memory).

    The greater of two thirds of the thickness and the thickness less 4 in.
    """
    return max(2 * slab_in / 3, slab_in - 4.0)


def basic_tension_lbf(embedment_in: float, fc_psi: float, kc: float = KC_POST_INSTALLED) -> float:
    """Return Nb = kc sqrt(f'c) hef^1.5, 17.6.2.2.1, cracked normal-weight concrete."""
    return kc * math.sqrt(fc_psi) * math.pow(embedment_in, 1.5)


def edge_factor_tension(edge_in: float, embedment_in: float) -> float:
    """Return psi-ed,N, 17.6.2.4.1."""
    return min(1.0, 0.7 + 0.3 * edge_in / (1.5 * embedment_in))


def tension_area_in2(count: int, spacing_in: float, edge_in: float, embedment_in: float) -> float:
    """Return ANc of a line of anchors parallel to an edge, never more than n ANco, 17.6.2.1."""
    reach = 1.5 * embedment_in
    along = 2 * reach + (count - 1) * min(spacing_in, 2 * reach)
    return along * (reach + min(edge_in, reach))


def group_tension_lbf(
    count: int, spacing_in: float, edge_in: float, embedment_in: float, fc_psi: float
) -> float:
    """Return Ncbg without eccentricity, 17.6.2.1b."""
    area = tension_area_in2(count, spacing_in, edge_in, embedment_in) / (9 * embedment_in**2)
    edge = edge_factor_tension(edge_in, embedment_in)
    return area * edge * basic_tension_lbf(embedment_in, fc_psi)


def pryout_factor(embedment_in: float) -> float:
    """Return kcp, 17.7.3.1."""
    return 1.0 if embedment_in < 2.5 else 2.0


def basic_shear_lbf(
    embedment_in: float, diameter_in: float, edge_in: float, fc_psi: float
) -> float:
    """Return Vb for shear towards an edge, the lesser of 17.7.2.2.1a and b."""
    bearing_length = min(embedment_in, 8 * diameter_in)
    first = (
        7
        * math.pow(bearing_length / diameter_in, 0.2)
        * math.sqrt(diameter_in)
        * math.sqrt(fc_psi)
        * math.pow(edge_in, 1.5)
    )
    return min(first, 9 * math.sqrt(fc_psi) * math.pow(edge_in, 1.5))


def group_shear_lbf(
    count: int,
    spacing_in: float,
    edge_in: float,
    thickness_in: float,
    basic_lbf: float,
) -> float:
    """Return Vcbg towards an edge in front of the line of anchors, 17.7.2.1b, cracked."""
    depth = min(1.5 * edge_in, thickness_in)
    width = 3 * edge_in + (count - 1) * min(spacing_in, 3 * edge_in)
    thin = max(1.0, math.sqrt(1.5 * edge_in / thickness_in))
    return width * depth / (4.5 * edge_in**2) * thin * basic_lbf


def stress_area_in2(anchors: BaseAnchors) -> float:
    """Return the thread's tensile area, 0.7854 (d - 0.9743/n)^2 (read)."""
    return 0.7854 * (anchors.diameter_in - 0.9743 / anchors.threads_per_in) ** 2


@dataclass(frozen=True)
class Slab:
    """``edge_in`` from the anchors to the slab's edge at the wall."""

    thickness_in: float
    fc_psi: float
    edge_in: float
    basis: Basis = MEASURED


@dataclass(frozen=True)
class AnchorStrength:
    """Design strengths (phi included) of the group in lbf; ``breakout_shear`` None: no edge."""

    embedment_in: float
    steel_shear: float
    pryout: float
    breakout_shear: float | None
    steel_tension: float
    breakout_tension: float

    @property
    def shear(self) -> float:
        ways = [self.steel_shear, self.pryout]
        if self.breakout_shear is not None:
            ways.append(self.breakout_shear)
        return min(ways)

    @property
    def tension(self) -> float:
        return min(self.steel_tension, self.breakout_tension)


def strength(anchors: BaseAnchors, slab: Slab) -> AnchorStrength:
    """Return the design strengths; the embedment is cut to what the slab's thickness allows."""
    embedment = min(anchors.embedment_in, embedment_limit_in(slab.thickness_in))
    count, area, fu = anchors.count, stress_area_in2(anchors), anchors.steel_fu_ksi * 1000
    nominal = group_tension_lbf(count, anchors.spacing_in, slab.edge_in, embedment, slab.fc_psi)
    breakout = None
    if anchors.room_edge_in is not None:
        edge = anchors.room_edge_in
        basic = basic_shear_lbf(embedment, anchors.diameter_in, edge, slab.fc_psi)
        breakout = PHI_CONCRETE_SHEAR * group_shear_lbf(
            count, anchors.spacing_in, edge, slab.thickness_in, basic
        )
    return AnchorStrength(
        embedment,
        PHI_STEEL_SHEAR * 0.6 * area * fu * count,
        PHI_CONCRETE_SHEAR * pryout_factor(embedment) * nominal,
        breakout,
        PHI_STEEL_TENSION * area * fu * count,
        PHI_CONCRETE_TENSION * nominal,
    )


def tension_lbf(shear_lbf: float, anchors: BaseAnchors) -> float:
    """Return the pull on the group from the bracket's tipping about its toe."""
    return shear_lbf * anchors.force_height_in / anchors.lever_in


def interaction(shear_ratio: float, tension_ratio: float) -> float:
    """Return the utilization of shear and tension together, 17.8: sum over 1.2.

    Up to 0.2 of one strength the other stands alone.
    """
    if tension_ratio <= 0.2 or shear_ratio <= 0.2:
        return max(shear_ratio, tension_ratio)
    return max(shear_ratio, tension_ratio, (shear_ratio + tension_ratio) / 1.2)


def allowed_shear_lbf(anchors: BaseAnchors, slab: Slab, load_factor: float) -> float:
    """Return the service shear at which the interaction reaches 1."""
    found = strength(anchors, slab)
    shear = load_factor / found.shear
    tension = load_factor * tension_lbf(1.0, anchors) / found.tension
    alone = 1 / max(shear, tension)
    together = 1.2 / (shear + tension)
    return alone if min(shear, tension) * alone <= 0.2 else min(alone, together)
