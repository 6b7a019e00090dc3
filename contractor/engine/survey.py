"""A surveyed wall as plain values: lengths in ticks (64ths of an inch), unknowns as None.

Positions are measured along the wall from its left corner as seen from inside, heights up
from the top of the slab. ``survey_reader`` builds these from a ``wall-survey/1`` document.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from contractor.engine.data.lumber import dressed_size_in

WallKind = Literal["poured_concrete", "hollow_block", "grouted_block", "stone", "brick", "wood"]
Damage = Literal["normal", "bad"]
JoistDirection = Literal["perpendicular", "parallel"]
JoistKind = Literal["sawn", "i_joist", "truss", "steel"]
FeatureKind = Literal["opening", "fixture", "line"]
CrackKind = Literal["horizontal", "vertical", "stair_step", "diagonal"]


@dataclass(frozen=True)
class Wall:
    length_ticks: int
    kind: WallKind | None
    thickness_ticks: int | None
    fill_height_ticks: int | None
    damage: Damage = "normal"


@dataclass(frozen=True)
class Soil:
    """Either a USCS class or an equivalent fluid weight; both None means unknown."""

    uscs: str | None = None
    equivalent_fluid_psf_per_ft: float | None = None

    @property
    def is_known(self) -> bool:
        return self.uscs is not None or self.equivalent_fluid_psf_per_ft is not None


@dataclass(frozen=True)
class Slab:
    thickness_ticks: int | None
    edge_gap_ticks: int | None


@dataclass(frozen=True)
class Framing:
    """Floor framing over the wall; ``center_ticks`` are joist centres along the wall.

    For parallel joists the centres are distances from the wall's inside face inwards, where
    measured; an empty tuple means not measured. ``size`` is nominal, such as "2x10".
    """

    direction: JoistDirection
    kind: JoistKind
    size: str | None
    species: str | None
    center_ticks: tuple[int, ...] = ()
    thickness_ticks: int | None = None
    depth_ticks: int | None = None

    @property
    def joist_thickness_ticks(self) -> int | None:
        """The measured thickness, else the dressed one of ``size``; None when unknown."""
        return self.thickness_ticks or self._dressed_ticks(0)

    @property
    def joist_depth_ticks(self) -> int | None:
        """The measured depth, else the dressed one of ``size``; None when unknown."""
        return self.depth_ticks or self._dressed_ticks(1)

    def _dressed_ticks(self, side: int) -> int | None:
        dressed_in = dressed_size_in(self.size) if self.kind == "sawn" else None
        return None if dressed_in is None else int(dressed_in[side] * 64)


@dataclass(frozen=True)
class Station:
    at_ticks: int
    height_ticks: int


@dataclass(frozen=True)
class Feature:
    kind: FeatureKind
    label: str
    from_ticks: int
    to_ticks: int
    bottom_ticks: int | None
    top_ticks: int | None
    stand_off_ticks: int | None
    is_removable: bool


@dataclass(frozen=True)
class BowReading:
    at_ticks: int
    height_ticks: int
    inward_ticks: int


@dataclass(frozen=True)
class Crack:
    kind: CrackKind
    at_ticks: int | None
    height_ticks: int | None
    width_ticks: int | None


@dataclass(frozen=True)
class Distress:
    readings: tuple[BowReading, ...] = ()
    cracks: tuple[Crack, ...] = ()
    base_slide_ticks: int | None = None
    is_settling: bool | None = None


@dataclass(frozen=True)
class Rules:
    """Company layout rules; the defaults are common practice in the trade (no source)."""

    corner_ideal_ticks: int = 36 * 64
    corner_min_ticks: int = 12 * 64
    corner_max_ticks: int = 42 * 64
    spacing_max_ticks: int = 72 * 64
    spacing_max_bad_ticks: int = 36 * 64
    spacing_soft_min_ticks: int = 60 * 64
    spacing_min_ticks: int = 24 * 64
    bracket_offset_ticks: int = 2 * 64
    clearance_ticks: int = 96
    top_gap_ticks: int = 32
    furring_layer_ticks: int = 96
    backer_thickness_ticks: int = 96
    screened_spacing_max_ticks: int | None = None


@dataclass(frozen=True)
class Survey:
    """``rounded`` holds JSON pointers of lengths that were kept to the nearest tick."""

    name: str
    wall: Wall
    soil: Soil
    slab: Slab
    framing: Framing
    stations: tuple[Station, ...]
    features: tuple[Feature, ...] = ()
    distress: Distress = field(default_factory=Distress)
    rules: Rules = field(default_factory=Rules)
    water_depth_ticks: int | None = None
    surcharge_psf: float | None = None
    is_drained: bool | None = None
    rounded: tuple[str, ...] = ()
