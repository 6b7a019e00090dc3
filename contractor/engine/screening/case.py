"""One wall made ready for its checks: facts of the survey in plain inches, stand-ins named."""

from __future__ import annotations

from dataclasses import dataclass

from contractor.engine.data.lumber import (
    SPECIES,
    UNKNOWN_SPECIES,
    Species,
    dressed_size_in,
    species_named,
)
from contractor.engine.data.masonry import MORTAR_TITLES
from contractor.engine.data.soils import TABLES
from contractor.engine.data.steel_shapes import GRADES, Grade, Shape, default_grade, shapes
from contractor.engine.errors import InputError
from contractor.engine.screening import distress, soil, wall
from contractor.engine.screening.anchor_strength import Slab
from contractor.engine.screening.bolts import WoodMember
from contractor.engine.screening.findings import Note, Reason
from contractor.engine.screening.hardware import Assumptions, BraceKit
from contractor.engine.screening.loads import Ground, Layer, pressure_layers
from contractor.engine.screening.soil import EquivalentFluid
from contractor.engine.survey import Survey

TICKS_PER_INCH = 64
UNKNOWN_JOIST_IN = (1.5, 7.25)


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
    member, depth_in, species, extra = _floor(survey, kit, assumed)
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
        depth_in,
        species,
        _joists_crossed(survey, kit, assumptions, assumed),
        _slab(survey, chosen, kit, assumptions, assumed),
        (*distress.stops(survey, assumptions), *extra),
        tuple(assumed),
        distress.unknowns(survey),
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


def _floor(
    survey: Survey, kit: BraceKit, assumed: list[Note]
) -> tuple[WoodMember | None, float | None, Species, tuple[Reason, ...]]:
    """Return the wood that the bolts hold, the joist's depth, its species, further unknowns."""
    framing = survey.framing
    species = species_named(framing.species)
    known = species is not None
    if species is None:
        species = SPECIES[UNKNOWN_SPECIES]
        assumed.append(
            Note(
                "weakest_species",
                f"Joists of {species.title}, the weakest group of "
                "the table, for an unknown species.",
                "assumption",
            )
        )
    if framing.kind != "sawn":
        return None, _depth_in(survey), species, ()
    if framing.direction == "parallel":
        plank = kit.backer
        member = WoodMember("the backer", species, plank.thickness_in, plank.width_in, 0.0, known)
        return member, _depth_in(survey), species, ()
    size = dressed_size_in(framing.size)
    thickness, depth = framing.thickness_ticks, framing.depth_ticks
    reasons: tuple[Reason, ...] = ()
    if size is None and (thickness is None or depth is None):
        size = UNKNOWN_JOIST_IN
        reasons = (
            Reason(
                "joist_size_unknown",
                "The joists' size is not known.",
                distress.TRADE,
                "common practice",
                "unknown",
            ),
        )
        assumed.append(
            Note(
                "joist_stand_in",
                "Joists 1-1/2 x 7-1/4 in stand in for an unknown size, for orientation only.",
                "assumption",
            )
        )
    measured = (
        thickness / TICKS_PER_INCH if thickness is not None else (size or UNKNOWN_JOIST_IN)[0],
        depth / TICKS_PER_INCH if depth is not None else (size or UNKNOWN_JOIST_IN)[1],
    )
    plies = 2 if kit.is_joist_sistered else 1
    title = "the sistered joist" if kit.is_joist_sistered else "the joist side"
    member = WoodMember(title, species, measured[0] * plies, measured[1], 0.0, known)
    return member, measured[1], species, reasons


def _depth_in(survey: Survey) -> float | None:
    framing = survey.framing
    if framing.depth_ticks is not None:
        return framing.depth_ticks / TICKS_PER_INCH
    size = dressed_size_in(framing.size)
    return size[1] if size else None


def _joists_crossed(
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
    assumed.append(
        Note(
            "joist_spacing_stand_in",
            f"Joists {spacing:g} in apart for the nails of "
            "the backer: their spacing is not measured.",
            "assumption",
        )
    )
    return int(kit.backer.length_in // spacing)


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
