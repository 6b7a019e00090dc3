"""Base anchors after ACI 318-19 chapter 17, at screening level. lbf, in, psi.

The soil pushes the wall into the room, so the foot of the beam pushes its bracket into the room
and the anchors hold it back: they are sheared towards the room, away from the slab's edge at
the wall. With solid slab on that side nothing breaks out sideways; steel and pryout decide,
and the bracket's tipping pulls on the anchors. Pullout and the maker's minimum distances are
the maker's data and are not checked. Equations read in a published design guide to ACI 318-19
ch. 17 (October 2025); strength reductions and the embedment limit from memory, confirm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from contractor.engine.data.basis import ASSUMED, MEASURED, MEMORY, PRACTICE, READ, Basis
from contractor.engine.screening.checks import Check, Number, Step, compare
from contractor.engine.screening.hardware import BaseAnchors

KC_POST_INSTALLED = 17.0
KC_CAST_IN = 24.0
PHI_CONCRETE_SHEAR = 0.70
PHI_CONCRETE_TENSION = 0.65
PHI_STEEL_SHEAR = 0.60  # brittle steel, without the maker's data
PHI_STEEL_TENSION = 0.65
MIN_SLAB_IN = 3.5
CODE = "ACI 318-19"


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


def checks(
    reaction_lbf: float, anchors: BaseAnchors, slab: Slab, load_factor: float
) -> tuple[Check, ...]:
    """Return the checks of the base anchors under the bottom reaction (strength level, 1.6 H)."""
    found = strength(anchors, slab)
    factored = load_factor * reaction_lbf
    pull = tension_lbf(factored, anchors)
    reaction = Number("R", reaction_lbf, "lbf", label="reaction at the base, towards the room")
    factor = Number("H factor", load_factor, "", MEMORY, "load factor of soil")
    demand = Step(
        "Vu",
        "factored shear",
        "{0} × {1}",
        (factor, reaction),
        factored,
        "lbf",
        f"{CODE} 5.3.8",
        MEMORY,
    )
    inputs = (reaction, factor, *_inputs(anchors, slab, found))
    made = [
        _steel_check(anchors, found, factored, demand, inputs),
        _pryout_check(anchors, slab, found, factored, demand, inputs),
    ]
    if found.breakout_shear is not None:
        made.append(_breakout_check(anchors, found, factored, demand, inputs))
    made.append(_tension_check(anchors, found, factored, pull, inputs))
    made.append(_interaction_check(found, factored, pull, inputs))
    return tuple(made)


def _inputs(anchors: BaseAnchors, slab: Slab, found: AnchorStrength) -> tuple[Number, ...]:
    return (
        Number("n", anchors.count, "", PRACTICE, "anchors"),
        Number("da", anchors.diameter_in, "in", PRACTICE, "anchor diameter"),
        Number(
            "hef",
            found.embedment_in,
            "in",
            PRACTICE if found.embedment_in == anchors.embedment_in else MEMORY,
            "effective embedment, no more than the thin slab allows (17.9.4)",
        ),
        Number("ha", slab.thickness_in, "in", slab.basis, "slab thickness"),
        Number("f'c", slab.fc_psi, "psi", ASSUMED, "slab concrete, cracked"),
    )


def _steel_check(
    anchors: BaseAnchors,
    found: AnchorStrength,
    factored: float,
    demand: Step,
    inputs: tuple[Number, ...],
) -> Check:
    numbers = (
        Number("φ", PHI_STEEL_SHEAR, "", READ),
        Number("n", anchors.count, ""),
        Number("Ase", stress_area_in2(anchors), "in2", READ),
        Number("futa", anchors.steel_fu_ksi * 1000, "psi", ASSUMED, "until the maker's data"),
    )
    step = Step(
        "φVsa",
        "steel in shear",
        "{0} × {1} × 0.6 × {2} × {3}",
        numbers,
        found.steel_shear,
        "lbf",
        f"{CODE} 17.7.1.2b",
        MEMORY,
    )
    return compare(
        "anchor_steel_shear",
        "Base anchors: steel in shear",
        factored,
        found.steel_shear,
        "lbf",
        f"{CODE} 17.7.1",
        (demand, step),
        inputs,
    )


def _breakout_step(anchors: BaseAnchors, slab: Slab, embedment: float) -> Step:
    nominal = group_tension_lbf(
        anchors.count, anchors.spacing_in, slab.edge_in, embedment, slab.fc_psi
    )
    numbers = (
        Number(
            "ANc",
            tension_area_in2(anchors.count, anchors.spacing_in, slab.edge_in, embedment),
            "in2",
            READ,
        ),
        Number("ANco", 9 * embedment**2, "in2", READ),
        Number("ψed,N", edge_factor_tension(slab.edge_in, embedment), "", READ),
        Number("kc", KC_POST_INSTALLED, "", READ),
        Number("f'c", slab.fc_psi, "psi", ASSUMED),
        Number("hef", embedment, "in"),
    )
    return Step(
        "Ncbg",
        "concrete breakout of the group",
        "{0}/{1} × {2} × {3} × √{4} × {5}^1.5",
        numbers,
        nominal,
        "lbf",
        f"{CODE} 17.6.2.1b, 17.6.2.2.1",
        READ,
    )


def _pryout_check(
    anchors: BaseAnchors,
    slab: Slab,
    found: AnchorStrength,
    factored: float,
    demand: Step,
    inputs: tuple[Number, ...],
) -> Check:
    nominal = _breakout_step(anchors, slab, found.embedment_in)
    numbers = (
        Number("φ", PHI_CONCRETE_SHEAR, "", READ),
        Number("kcp", pryout_factor(found.embedment_in), "", READ),
        Number("Ncbg", nominal.value, "lbf"),
    )
    step = Step(
        "φVcpg",
        "pryout",
        "{0} × {1} × {2}",
        numbers,
        found.pryout,
        "lbf",
        f"{CODE} 17.7.3.1b",
        READ,
    )
    return compare(
        "anchor_pryout",
        "Base anchors: concrete pryout",
        factored,
        found.pryout,
        "lbf",
        f"{CODE} 17.7.3",
        (demand, nominal, step),
        inputs,
    )


def _breakout_check(
    anchors: BaseAnchors,
    found: AnchorStrength,
    factored: float,
    demand: Step,
    inputs: tuple[Number, ...],
) -> Check:
    assert found.breakout_shear is not None and anchors.room_edge_in is not None
    numbers = (
        Number("φ", PHI_CONCRETE_SHEAR, "", READ),
        Number("Vcbg", found.breakout_shear / PHI_CONCRETE_SHEAR, "lbf", READ),
        Number("ca1", anchors.room_edge_in, "in", MEASURED, "edge or joint on the room side"),
    )
    step = Step(
        "φVcbg",
        "breakout towards the room",
        "{0} × {1} (edge at {2})",
        numbers,
        found.breakout_shear,
        "lbf",
        f"{CODE} 17.7.2.1b",
        READ,
    )
    return compare(
        "anchor_breakout_shear",
        "Base anchors: concrete breakout in shear",
        factored,
        found.breakout_shear,
        "lbf",
        f"{CODE} 17.7.2",
        (demand, step),
        inputs,
    )


def _tension_check(
    anchors: BaseAnchors,
    found: AnchorStrength,
    factored: float,
    pull: float,
    inputs: tuple[Number, ...],
) -> Check:
    numbers = (
        Number("Vu", factored, "lbf"),
        Number("e", anchors.force_height_in, "in", PRACTICE, "height of the force"),
        Number("a", anchors.lever_in, "in", PRACTICE, "anchors to the bracket's toe"),
    )
    demand = Step(
        "Nu",
        "pull from the bracket's tipping",
        "{0} × {1} / {2}",
        numbers,
        pull,
        "lbf",
        "statics; common practice",
        PRACTICE,
    )
    ways = (
        Number("φNsa", found.steel_tension, "lbf", MEMORY),
        Number("φNcbg", found.breakout_tension, "lbf", MEMORY),
    )
    step = Step(
        "φNn",
        "lesser of steel and concrete breakout",
        "min({0}, {1})",
        ways,
        found.tension,
        "lbf",
        f"{CODE} 17.6.1, 17.6.2",
        MEMORY,
    )
    return compare(
        "anchor_tension",
        "Base anchors: tension",
        pull,
        found.tension,
        "lbf",
        f"{CODE} 17.6",
        (demand, step),
        inputs,
    )


def _interaction_check(
    found: AnchorStrength, factored: float, pull: float, inputs: tuple[Number, ...]
) -> Check:
    shear, tension = factored / found.shear, pull / found.tension
    numbers = (Number("Vu/φVn", shear, ""), Number("Nu/φNn", tension, ""))
    value = interaction(shear, tension)
    step = Step(
        "ratio",
        "shear and tension together",
        "larger of {0}, {1} and, where both exceed 0.2, ({0} + {1}) / 1.2",
        numbers,
        value,
        "",
        f"{CODE} 17.8",
        MEMORY,
    )
    return compare(
        "anchor_interaction",
        "Base anchors: shear and tension together",
        value,
        1.0,
        "",
        f"{CODE} 17.8",
        (step,),
        inputs,
    )
