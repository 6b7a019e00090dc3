"""One wall made ready for its checks: facts of the survey in plain inches, stand-ins named."""

from __future__ import annotations

from dataclasses import dataclass

from contractor.engine.data.lumber import Species
from contractor.engine.data.masonry import MORTAR_TITLES
from contractor.engine.data.soils import TABLES
from contractor.engine.data.steel_shapes import GRADES, Grade, Shape, default_grade, shapes
from contractor.engine.errors import InputError
from contractor.engine.screening import distress, soil, wall
from contractor.engine.screening.anchor_strength import Slab
from contractor.engine.screening.bolts import WoodMember
from contractor.engine.screening.findings import Note, Reason
from contractor.engine.screening.floor import (
    bolted_wood,
    joist_depth_in,
    joists_crossed,
    species_of,
)
from contractor.engine.screening.hardware import Assumptions, BraceKit
from contractor.engine.screening.loads import Ground, Layer, pressure_layers
from contractor.engine.screening.notes import unknowns
from contractor.engine.screening.soil import EquivalentFluid
from contractor.engine.survey import Survey

TICKS_PER_INCH = 64


@dataclass(frozen=True)
class Case:
    """None stands for what cannot be computed; ``stops`` say why. Inches."""

    survey: Survey
    shape: Shape
    grade: Grade
    kit: BraceKit
    assumptions: Assumptions
    ground: Ground | None
    layers: tuple[Layer, ...]
    member: WoodMember | None
    joist_depth_in: float | None
    species: Species
    joists_crossed: int
    slab: Slab | None
    stops: tuple[Reason, ...]
    assumed: tuple[Note, ...]
    unknowns: tuple[Note, ...]

    @property
    def is_parallel(self) -> bool:
        return self.survey.framing.direction == "parallel"

    def panel(self, span_in: float) -> wall.Panel | None:
        """Return the wall's strip, None where thickness, kind or load is missing."""
        kind, thickness = self.survey.wall.kind, self.survey.wall.thickness_ticks
        if kind is None or thickness is None or not self.layers:
            return None
        cracks = [
            crack.height_ticks / TICKS_PER_INCH
            for crack in self.survey.distress.cracks
            if crack.kind == "horizontal" and crack.height_ticks is not None
        ]
        line = wall.crack_line_in(self.layers, span_in, cracks)
        return wall.panel_of(kind, thickness / TICKS_PER_INCH, self.assumptions, line)


def shape_named(name: str) -> Shape:
    """Return the shape. Raises InputError for one without section data."""
    known = shapes()
    wanted = name.strip().lower().replace("×", "x")
    for title, shape in known.items():
        if title.lower() == wanted:
            return shape
    raise InputError(
        "unknown_shape",
        "/shape",
        f"No section data for {name!r}.",
        f"Use one of: {', '.join(known)}.",
    )


def grade_named(name: str | None, shape: Shape) -> Grade:
    """Return the grade, the shape's default for None. Raises InputError."""
    wanted = name or default_grade(shape.name)
    if wanted not in GRADES:
        raise InputError(
            "unknown_grade",
            "/grade",
            f"No strength for {wanted!r}.",
            f"Use one of: {', '.join(GRADES)}.",
        )
    return GRADES[wanted]


def prepare(
    survey: Survey,
    shape: str,
    grade: str | None,
    kit: BraceKit,
    assumptions: Assumptions,
) -> Case:
    """Return the wall ready for its checks. Raises InputError for unknown shape or grade."""
    chosen = shape_named(shape)
    assumed: list[Note] = []
    ground = _ground(survey, assumptions, assumed)
    species, is_known = species_of(survey, assumed)
    member, extra = bolted_wood(survey, kit, species, is_known, assumed)
    _wall_notes(survey, assumptions, assumed)
    return Case(
        survey,
        chosen,
        grade_named(grade, chosen),
        kit,
        assumptions,
        ground,
        pressure_layers(ground) if ground is not None else (),
        member,
        joist_depth_in(survey),
        species,
        joists_crossed(survey, kit, assumptions, assumed),
        _slab(survey, chosen, kit, assumptions, assumed),
        (*distress.stops(survey, assumptions), *extra),
        tuple(assumed),
        unknowns(survey),
    )


def _ground(survey: Survey, assumptions: Assumptions, assumed: list[Note]) -> Ground | None:
    fill = survey.wall.fill_height_ticks
    if not fill:
        return None
    fill_in = fill / TICKS_PER_INCH
    fluid = _fluid(survey, assumptions, fill_in, assumed)
    water = 0.0
    if survey.water_depth_ticks is not None:
        water = max(0.0, fill_in - survey.water_depth_ticks / TICKS_PER_INCH)
    elif survey.is_drained is False:
        water = fill_in
        assumed.append(
            Note(
                "water_at_grade",
                "No drain and no water level recorded: water is taken to stand at grade.",
                "IBC 2021 1610.1 (read)",
            )
        )
    else:
        assumed.append(
            Note(
                "no_water",
                "No standing water behind the wall. See the sensitivity to saturated soil.",
                "assumption",
            )
        )
    if survey.surcharge_psf is None:
        assumed.append(Note("no_surcharge", "No load on the ground near the wall.", "assumption"))
    return Ground(fill_in, fluid, water, survey.surcharge_psf or 0.0, assumptions.saturated_pcf)


def _wall_notes(survey: Survey, assumptions: Assumptions, assumed: list[Note]) -> None:
    """Name what stands in for the wall's own strength."""
    if survey.wall.kind == "poured_concrete":
        assumed.append(
            Note(
                "wall_concrete",
                f"Plain wall concrete of {assumptions.wall_fc_psi:g} psi.",
                "assumption",
            )
        )
    elif survey.wall.kind in ("hollow_block", "grouted_block"):
        assumed.append(
            Note("mortar", f"Running bond, {MORTAR_TITLES[assumptions.mortar]}.", "assumption")
        )


def _fluid(
    survey: Survey, assumptions: Assumptions, fill_in: float, assumed: list[Note]
) -> EquivalentFluid:
    given = survey.soil.equivalent_fluid_psf_per_ft
    if given is not None:
        return soil.fluid_given(given)
    uscs = survey.soil.uscs
    if uscs is not None:
        found = soil.fluid_of_class(uscs, assumptions.soil_table, fill_in / 12)
        if found is not None:
            assumed.append(
                Note(
                    "flexible_top",
                    "The wood floor is taken as a flexible diaphragm that holds the wall's top.",
                    "IBC 2021 1610.1 (read)",
                )
            )
            return found
    weight = 100.0 if uscs is not None else assumptions.unknown_soil_psf_per_ft
    table = TABLES[assumptions.soil_table].clause
    assumed.append(
        Note(
            "soil_stand_in",
            f"No load for this soil in {table}: {weight:g} psf per "
            "foot stands in, for orientation only.",
            "assumption",
        )
    )
    return soil.fluid_assumed(weight)


def _slab(
    survey: Survey,
    shape: Shape,
    kit: BraceKit,
    assumptions: Assumptions,
    assumed: list[Note],
) -> Slab | None:
    edge = shape.depth_in + kit.anchors.setback_in
    thickness = survey.slab.thickness_ticks
    if kit.slab_pad_in is not None:
        return Slab(kit.slab_pad_in, assumptions.slab_fc_psi, edge, "common practice")
    if not thickness:
        return None
    assumed.append(
        Note(
            "slab_concrete",
            f"Slab concrete of {assumptions.slab_fc_psi:g} psi, cracked, without steel.",
            "assumption",
        )
    )
    return Slab(thickness / TICKS_PER_INCH, assumptions.slab_fc_psi, edge)
