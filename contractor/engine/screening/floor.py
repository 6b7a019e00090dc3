"""The floor above the wall as the brace's head meets it: wood, sizes, joists that a backer crosses.

What a survey leaves open is filled by a named stand-in, added to ``assumed``.
"""

from __future__ import annotations

from contractor.engine.data.lumber import (
    SPECIES,
    UNKNOWN_SPECIES,
    Species,
    dressed_size_in,
    species_named,
)
from contractor.engine.screening.bolts import WoodMember
from contractor.engine.screening.findings import TRADE, Note, Reason
from contractor.engine.screening.hardware import Assumptions, BraceKit
from contractor.engine.survey import Survey

TICKS_PER_INCH = 64
UNKNOWN_JOIST_IN = (1.5, 7.25)


def species_of(survey: Survey, assumed: list[Note]) -> tuple[Species, bool]:
    """Return the joists' species group and whether it is known; the weakest for an unknown one."""
    species = species_named(survey.framing.species)
    if species is not None:
        return species, True
    weakest = SPECIES[UNKNOWN_SPECIES]
    text = f"Joists of {weakest.title}, the weakest group of the table, for an unknown species."
    assumed.append(Note("weakest_species", text, "assumption"))
    return weakest, False


def bolted_wood(
    survey: Survey, kit: BraceKit, species: Species, is_known: bool, assumed: list[Note]
) -> tuple[WoodMember | None, tuple[Reason, ...]]:
    """Return the wood that the top bolts hold, None without a rule for it, and new unknowns."""
    framing = survey.framing
    if framing.kind != "sawn":
        return None, ()
    if framing.direction == "parallel":
        plank = kit.backer
        thickness, depth = plank.thickness_in, plank.width_in
        return WoodMember("the backer", species, thickness, depth, 0.0, is_known), ()
    (thickness, depth), reasons = _joist_size_in(survey, assumed)
    if kit.is_joist_sistered:
        title, thickness = "the sistered joist", 2 * thickness
    else:
        title = "the joist side"
    return WoodMember(title, species, thickness, depth, 0.0, is_known), reasons


def _joist_size_in(
    survey: Survey, assumed: list[Note]
) -> tuple[tuple[float, float], tuple[Reason, ...]]:
    """Return thickness and depth: measured first, else dressed from the size, else a stand-in."""
    framing = survey.framing
    size = dressed_size_in(framing.size)
    reasons: tuple[Reason, ...] = ()
    thickness, depth = framing.thickness_ticks, framing.depth_ticks
    found = size or UNKNOWN_JOIST_IN
    if size is None and (thickness is None or depth is None):
        text = "Joists 1-1/2 x 7-1/4 in stand in for an unknown size, for orientation only."
        assumed.append(Note("joist_stand_in", text, "assumption"))
        text = "The joists' size is not known."
        reasons = (Reason("joist_size_unknown", text, TRADE, "common practice", "unknown"),)
    measured = (
        thickness / TICKS_PER_INCH if thickness is not None else found[0],
        depth / TICKS_PER_INCH if depth is not None else found[1],
    )
    return measured, reasons


def joist_depth_in(survey: Survey) -> float | None:
    """Return the joists' depth, measured or dressed; None where neither is known."""
    framing = survey.framing
    if framing.depth_ticks is not None:
        return framing.depth_ticks / TICKS_PER_INCH
    size = dressed_size_in(framing.size)
    return size[1] if size else None


def joists_crossed(
    survey: Survey, kit: BraceKit, assumptions: Assumptions, assumed: list[Note]
) -> int:
    """Return how many joists the backer crosses, from the wall inwards."""
    framing = survey.framing
    if framing.direction != "parallel":
        return 0
    if framing.center_ticks:
        reach = kit.backer.length_in * TICKS_PER_INCH
        return sum(1 for center in framing.center_ticks if center <= reach)
    spacing = assumptions.unmeasured_joist_spacing_in
    text = f"Joists {spacing:g} in apart for the nails of the backer: they are not measured."
    assumed.append(Note("joist_spacing_stand_in", text, "assumption"))
    return int(kit.backer.length_in // spacing)
