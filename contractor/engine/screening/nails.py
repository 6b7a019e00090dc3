"""Nails of the backer where joists run parallel to the wall (NDS 2018 12.3, 12.5)."""

from __future__ import annotations

from contractor.engine.data.basis import ASSUMED, MEASURED, MEMORY, PRACTICE, Basis
from contractor.engine.data.fasteners import Nail
from contractor.engine.data.lumber import Species
from contractor.engine.screening import wood
from contractor.engine.screening.checks import Check, Number, Step, compare
from contractor.engine.screening.hardware import Backer

MINIMUM_PENETRATION_DIAMETERS = 6  # NDS 12.1.6.5 (read)
TOE_NAIL = 0.83  # NDS 12.5.4 (from memory, confirm)
END_GRAIN = 0.67  # NDS 12.5.2 (from memory, confirm)


def nail_value(nail: Nail, side_in: float, gravity: float, is_rounded: bool = True) -> wood.Yield:
    """Return Z of one nail in side grain, single shear, both members of the same wood.

    The main member holds what is left of the nail. Raises ValueError below 6D of penetration.
    """
    penetration = nail.length_in - side_in
    if penetration < MINIMUM_PENETRATION_DIAMETERS * nail.diameter_in:
        raise ValueError(f"{nail.name}: less than 6 diameters in the main member")
    bearing = wood.nail_bearing_psi(gravity)
    if is_rounded:
        bearing = wood.round_to_50(bearing)
    return wood.single_shear(
        wood.Dowel(
            nail.diameter_in,
            penetration,
            side_in,
            bearing,
            bearing,
            nail.bending_yield_psi,
            is_bolt=False,
        )
    )


def nail_count(backer: Backer, joists: int) -> int:
    """Return the nails through the backer: into each joist it crosses and each block between."""
    return joists * backer.nails_per_joist + max(joists - 1, 0) * backer.nails_per_block


def group_check(
    force_lbf: float,
    backer: Backer,
    species: Species,
    joists: int,
    *,
    is_species_known: bool,
    is_measured: bool,
) -> Check:
    """Return the check of the backer's nails under the top reaction, permanent load."""
    value = nail_value(backer.nail, backer.thickness_in, species.gravity)
    count = nail_count(backer, joists)
    capacity = count * value.value_lbf * wood.PERMANENT
    wood_basis: Basis = MEMORY if is_species_known else ASSUMED
    joist_basis: Basis = MEASURED if is_measured else ASSUMED
    demand = Number("R", force_lbf, "lbf", label="reaction at the top")
    gravity = Number("G", species.gravity, "", wood_basis, species.title)
    diameter = Number("D", backer.nail.diameter_in, "in", backer.nail.basis, backer.nail.name)
    crossed = Number("joists", joists, "", joist_basis, "joists crossed")
    steps = (
        _count_step(backer, crossed, count),
        _value_step(value, diameter, gravity),
        _group_step(value, count, capacity),
    )
    inputs = (demand, gravity, diameter, crossed)
    title, clause = "Nails of backer and blocking", "NDS 2018 12.3"
    return compare("backer_nails", title, force_lbf, capacity, "lbf", clause, steps, inputs)


def _count_step(backer: Backer, crossed: Number, count: int) -> Step:
    per_joist = Number("per joist", backer.nails_per_joist, "", PRACTICE)
    per_block = Number("per block", backer.nails_per_block, "", PRACTICE)
    pattern, numbers = "{0} × {1} + ({0} − 1) × {2}", (crossed, per_joist, per_block)
    label = "nails through the backer"
    return Step("n", label, pattern, numbers, count, "", "common practice", PRACTICE)


def _value_step(value: wood.Yield, diameter: Number, gravity: Number) -> Step:
    pattern = f"mode {value.mode} of six, from {{0}}, {{1}}"
    label, clause = "reference value of one nail", "NDS 2018 12.3.1"
    numbers = (diameter, gravity)
    return Step("Z", label, pattern, numbers, value.value_lbf, "lbf", clause, MEMORY)


def _group_step(value: wood.Yield, count: int, capacity: float) -> Step:
    numbers = (
        Number("n", count, "", PRACTICE),
        Number("Z", value.value_lbf, "lbf"),
        Number("CD", wood.PERMANENT, "", MEMORY),
    )
    label, clause = "adjusted value of the group", "NDS 2018 Table 11.3.1; CD permanent load"
    return Step("Z'", label, "{0} × {1} × {2}", numbers, capacity, "lbf", clause, MEMORY)
