"""Top bolts of a brace: in the side of a joist, or through the backer (NDS 2018 ch. 11, 12)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from contractor.engine.data.basis import ASSUMED, MEMORY, PRACTICE, READ, Basis
from contractor.engine.data.lumber import Species
from contractor.engine.screening import wood
from contractor.engine.screening.checks import Check, Number, Step, compare
from contractor.engine.screening.hardware import TopBolts

STEEL_E_PSI = 29_000_000.0


@dataclass(frozen=True)
class WoodMember:
    """The wood that holds the bolts. ``angle_deg`` between load and grain."""

    title: str
    species: Species
    thickness_in: float
    depth_in: float
    angle_deg: float = 0.0
    is_species_known: bool = True


@dataclass(frozen=True)
class BoltStrength:
    """Adjusted strength of the group in lbf, and what makes it up."""

    yield_value: wood.Yield
    bearing_psi: float
    plate_bearing_psi: float
    geometry: float
    group: float
    duration: float
    count: int

    @property
    def per_bolt_lbf(self) -> float:
        return self.yield_value.value_lbf * self.duration * self.geometry * self.group

    @property
    def total_lbf(self) -> float:
        return self.per_bolt_lbf * self.count


def edge_distance_in(bolts: TopBolts, member: WoodMember) -> float:
    """Return the distance from the outer row to the edge of the wood, rows centred."""
    return (member.depth_in - (bolts.rows - 1) * bolts.gauge_in) / 2


def placement_factor(bolts: TopBolts, member: WoodMember) -> float:
    """Return C-delta, the least over end distance, spacing and edges (NDS 12.5.1).

    Along the grain: end 4D away from it or 7D toward it (softwood), spacing 4D, edge 1.5D.
    Across: end 4D, loaded edge 4D. Zero where a minimum is not met.
    """
    d = bolts.diameter_in
    is_across = member.angle_deg >= 45
    end_full = 7 * d if bolts.is_toward_end and not is_across else 4 * d
    factors = [wood.geometry_factor(bolts.end_distance_in, end_full / 2, end_full)]
    if bolts.per_row > 1:
        factors.append(wood.geometry_factor(bolts.spacing_in, 3 * d, 4 * d))
    edge_needed = 4 * d if is_across else 1.5 * d
    if edge_distance_in(bolts, member) < edge_needed:
        factors.append(0.0)
    if bolts.rows > 1 and bolts.gauge_in < 1.5 * d:
        factors.append(0.0)
    return min(factors)


def strength(bolts: TopBolts, member: WoodMember, duration: float) -> BoltStrength:
    """Return the adjusted strength of the group, steel bracket on one side, single shear."""
    d = bolts.diameter_in
    bearing = wood.bolt_bearing_psi(member.species.gravity, d, member.angle_deg)
    plate = wood.STEEL_PLATE_BEARING * bolts.plate_fu_ksi * 1000
    dowel = wood.Dowel(
        d,
        member.thickness_in,
        bolts.plate_in,
        bearing,
        plate,
        bolts.bending_yield_psi,
        is_bolt=True,
        angle_deg=member.angle_deg,
    )
    main_ea = member.species.modulus_psi * member.thickness_in * member.depth_in
    plate_ea = STEEL_E_PSI * bolts.plate_in * bolts.plate_width_in
    group = wood.group_action(
        bolts.per_row, bolts.spacing_in, d, main_ea, plate_ea, is_steel_side=True
    )
    return BoltStrength(
        wood.single_shear(dowel),
        bearing,
        plate,
        placement_factor(bolts, member),
        group,
        duration,
        bolts.count,
    )


def shear_check(force_lbf: float, bolts: TopBolts, member: WoodMember) -> Check:
    """Return the check of the top bolts under the reaction, which soil keeps up for good."""
    found = strength(bolts, member, wood.PERMANENT)
    demand = Number("R", force_lbf, "lbf", label="reaction at the top")
    return compare(
        "top_bolts",
        f"Top bolts through {member.title}",
        force_lbf,
        found.total_lbf,
        "lbf",
        "NDS 2018 11.3, 12.3",
        _shear_steps(bolts, member, found),
        (demand, *_inputs(bolts, member)),
    )


def _inputs(bolts: TopBolts, member: WoodMember) -> tuple[Number, ...]:
    species_basis: Basis = MEMORY if member.is_species_known else ASSUMED
    return (
        Number("n", bolts.count, "", PRACTICE, "bolts"),
        Number("D", bolts.diameter_in, "in", PRACTICE, "bolt diameter"),
        Number("lm", member.thickness_in, "in", PRACTICE, f"thickness of {member.title}"),
        Number("ls", bolts.plate_in, "in", PRACTICE, "bracket plate"),
        Number("G", member.species.gravity, "", species_basis, member.species.title),
    )


def _shear_steps(bolts: TopBolts, member: WoodMember, found: BoltStrength) -> tuple[Step, ...]:
    count, diameter, lm, ls, gravity = _inputs(bolts, member)
    fe = Number("Fe", found.bearing_psi, "psi", MEMORY)
    fes = Number("Fes", found.plate_bearing_psi, "psi", READ)
    fyb = Number("Fyb", bolts.bending_yield_psi, "psi", MEMORY)
    z = Number("Z", found.yield_value.value_lbf, "lbf", MEMORY)
    group = (
        count,
        z,
        Number("CD", found.duration, "", MEMORY),
        Number("CΔ", found.geometry, "", MEMORY),
        Number("Cg", found.group, "", MEMORY),
    )
    is_along = member.angle_deg == 0
    bearing = "11200 × {0}, to 50 psi" if is_along else "Hankinson at an angle, G = {0}"
    mode = f"mode {found.yield_value.mode} of six, from {{0}}, {{1}}, {{2}}, {{3}}, {{4}}, {{5}}"
    label, clause = "dowel bearing strength of the wood", "NDS 2018 Table 12.3.3"
    dowel = (diameter, lm, ls, fe, fes, fyb)
    return (
        Step("Fe", label, bearing, (gravity,), fe.value, "psi", clause, MEMORY),
        _lbf_step("Z", "reference value, single shear", mode, dowel, z.value, "12.3.1"),
        _lbf_step(
            "Z'",
            "adjusted value of the group",
            "{0} × {1} × {2} × {3} × {4}",
            group,
            found.total_lbf,
            "Table 11.3.1; CD permanent load",
        ),
    )


def _lbf_step(
    symbol: str, label: str, pattern: str, numbers: tuple[Number, ...], value: float, clause: str
) -> Step:
    return Step(symbol, label, pattern, numbers, value, "lbf", f"NDS 2018 {clause}", MEMORY)


def washer_tension_lbf(force_lbf: float, offset_in: float, bolts: TopBolts) -> float:
    """Return the tension of the most loaded bolt: the beam stands beside the joist.

    The force acts ``offset_in`` from the joist's centre and twists the bracket off; the outer
    bolts of every row hold it. A row of one bolt has no arm: its own washer is the arm.
    """
    return force_lbf * offset_in / (arm_in(bolts) * bolts.rows)


def washer_capacity_lbf(bolts: TopBolts, bearing_psi: float) -> float:
    """Return what a square plate washer carries on the wood's side grain."""
    return bearing_psi * (bolts.washer_in**2 - math.pi * bolts.hole_in**2 / 4)


def arm_in(bolts: TopBolts) -> float:
    """Return the distance between the outer bolts; a lone bolt turns on half its washer."""
    if bolts.per_row == 1:
        return bolts.washer_in / 2
    return (bolts.per_row - 1) * bolts.spacing_in


def washer_check(force_lbf: float, offset_in: float, bolts: TopBolts, member: WoodMember) -> Check:
    """Return the check of the plate washers bearing on the far side of the wood (NDS 3.10.2)."""
    tension = washer_tension_lbf(force_lbf, offset_in, bolts)
    capacity = washer_capacity_lbf(bolts, member.species.bearing_psi)
    force = Number("R", force_lbf, "lbf", label="reaction at the top")
    offset = Number("e", offset_in, "in", PRACTICE, "beam centre to joist centre")
    arm = Number("a", arm_in(bolts), "in", PRACTICE, "arm between the outer bolts")
    rows = Number("rows", bolts.rows, "", PRACTICE)
    washer = Number("b", bolts.washer_in, "in", PRACTICE, "square plate washer")
    hole = Number("dh", bolts.hole_in, "in", READ, "hole")
    stress = Number("Fc⊥", member.species.bearing_psi, "psi", MEMORY, member.species.title)
    pulled, clause = (force, offset, arm, rows), "statics; common practice"
    label = "tension of the outer bolt"
    pressed, area = (stress, washer, hole), "{0} × ({1}² − π × {2}² / 4)"
    steps = (
        Step("T", label, "{0} × {1} / ({2} × {3})", pulled, tension, "lbf", clause, PRACTICE),
        _lbf_step("T allowed", "bearing under the plate washer", area, pressed, capacity, "3.10.2"),
    )
    title, inputs = "Plate washer bearing on the wood", (force, offset, washer, hole, stress)
    clause = "NDS 2018 3.10.2"
    return compare("washer_bearing", title, tension, capacity, "lbf", clause, steps, inputs)
