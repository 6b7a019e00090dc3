"""Base anchors after ACI 318-19 chapter 17, at screening level. lbf, in, psi.

The soil pushes the wall into the room, so the foot of the beam pushes its bracket into the room
and the anchors hold it back: they are sheared towards the room, away from the slab's edge at
the wall. With solid slab on that side nothing breaks out sideways; steel and pryout decide,
and the bracket's tipping pulls on the anchors. Pullout and the maker's minimum distances are
the maker's data and are not checked. Equations: ``anchor_strength``.
"""

from __future__ import annotations

from contractor.engine.data.basis import ASSUMED, MEASURED, MEMORY, PRACTICE, READ
from contractor.engine.screening.anchor_strength import (
    KC_POST_INSTALLED,
    PHI_CONCRETE_SHEAR,
    PHI_STEEL_SHEAR,
    AnchorStrength,
    Slab,
    edge_factor_tension,
    group_tension_lbf,
    interaction,
    pryout_factor,
    strength,
    stress_area_in2,
    tension_area_in2,
    tension_lbf,
)
from contractor.engine.screening.checks import Check, Number, Step, compare
from contractor.engine.screening.hardware import BaseAnchors

CODE = "ACI 318-19"


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
    tipping = (
        Number("Vu", factored, "lbf"),
        Number("e", anchors.force_height_in, "in", PRACTICE, "height of the force"),
        Number("a", anchors.lever_in, "in", PRACTICE, "anchors to the bracket's toe"),
    )
    ways = (
        Number("φNsa", found.steel_tension, "lbf", MEMORY),
        Number("φNcbg", found.breakout_tension, "lbf", MEMORY),
    )
    label, clause = "pull from the bracket's tipping", "statics; common practice"
    demand = Step("Nu", label, "{0} × {1} / {2}", tipping, pull, "lbf", clause, PRACTICE)
    label, clause = "lesser of steel and concrete breakout", f"{CODE} 17.6.1, 17.6.2"
    step = Step("φNn", label, "min({0}, {1})", ways, found.tension, "lbf", clause, MEMORY)
    title, clause, steps = "Base anchors: tension", f"{CODE} 17.6", (demand, step)
    return compare("anchor_tension", title, pull, found.tension, "lbf", clause, steps, inputs)


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
