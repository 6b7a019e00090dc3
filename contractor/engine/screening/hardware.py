"""What the company fixes a brace with, and what it assumes where a survey is silent.

Every default is common practice in the trade (no published source) and company-editable; the
sheets print them. Inches, psi, lbf ft.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from contractor.engine.data.fasteners import BOLTS, NAILS, Nail
from contractor.engine.data.masonry import Mortar
from contractor.engine.data.soils import SoilTableName

DEFAULT_SHAPE = "S5x10"


@dataclass(frozen=True)
class TopBolts:
    """Through bolts of the top bracket: ``rows`` along the load with ``per_row`` bolts each."""

    diameter_in: float = 0.625
    rows: int = 2
    per_row: int = 2
    spacing_in: float = 3.0
    gauge_in: float = 3.0
    end_distance_in: float = 6.0
    is_toward_end: bool = False
    bending_yield_psi: float = 45_000.0
    plate_in: float = 0.25
    plate_width_in: float = 6.0
    plate_fu_ksi: float = 58.0
    washer_in: float = 3.0
    hole_in: float = 0.6875

    @property
    def count(self) -> int:
        return self.rows * self.per_row


@dataclass(frozen=True)
class BaseAnchors:
    """Post-installed anchors of the base bracket in one line along the wall.

    ``setback_in`` is from the beam's inside flange to the anchors; the force on the bracket
    acts ``force_height_in`` above the slab and tips it about its toe, ``lever_in`` away.
    ``room_edge_in`` is the distance to a slab edge or open joint on the room side, None when
    there is none in reach.
    """

    diameter_in: float = 0.625
    count: int = 2
    spacing_in: float = 8.0
    embedment_in: float = 2.5
    setback_in: float = 2.5
    force_height_in: float = 0.75
    lever_in: float = 3.0
    steel_fu_ksi: float = 58.0
    threads_per_in: int = 11
    room_edge_in: float | None = None


@dataclass(frozen=True)
class Backer:
    """Parallel framing: a plank across the joists' undersides, nailed to them and to blocking."""

    length_in: float = 96.0
    thickness_in: float = 1.5
    width_in: float = 7.25
    nail: Nail = field(default_factory=lambda: NAILS["16d common"])
    nails_per_joist: int = 3
    nails_per_block: int = 3


@dataclass(frozen=True)
class Tightening:
    """The bolt that presses the beam against the wall; torque is what the company uses."""

    diameter_in: float = 0.75
    friction: float = 0.20
    scatter: float = 0.30
    torque_lbf_ft: float = 50.0


@dataclass(frozen=True)
class BraceKit:
    """Everything that fixes one brace."""

    bolts: TopBolts = field(default_factory=TopBolts)
    anchors: BaseAnchors = field(default_factory=BaseAnchors)
    backer: Backer = field(default_factory=Backer)
    tightening: Tightening = field(default_factory=Tightening)
    is_joist_sistered: bool = False
    is_gap_packed: bool = False
    slab_pad_in: float | None = None
    fit_tolerance_in: float = 0.25
    lifters: int = 2


@dataclass(frozen=True)
class Assumptions:
    """Named stand-ins for what a survey of a finished house cannot show."""

    soil_table: SoilTableName = "IBC 2021"
    unknown_soil_psf_per_ft: float = 60.0
    saturated_pcf: float = 125.0
    slab_fc_psi: float = 2500.0
    wall_fc_psi: float = 2500.0
    mortar: Mortar = "pcl_n"
    load_factor: float = 1.6
    deflection_ratio: float = 240.0
    unmeasured_joist_spacing_in: float = 24.0
    seismic_category: str | None = None


def kit_with(
    *,
    bolt_count: int,
    bolt_diameter_in: float,
    anchor_count: int,
    anchor_diameter_in: float,
    anchor_embedment_in: float = BaseAnchors.embedment_in,
    torque_lbf_ft: float = Tightening.torque_lbf_ft,
    backer: Backer | None = None,
) -> BraceKit:
    """Return a kit with other counts and sizes, holes and threads to match.

    An even number of bolts stands in two rows along the load, an odd one in a single row.
    Raises ValueError for a diameter without a size in the table.
    """
    sizes = {float(size.diameter_in): size for size in BOLTS.values()}
    if bolt_diameter_in not in sizes or anchor_diameter_in not in sizes:
        raise ValueError("no such bolt size")
    rows = 2 if bolt_count % 2 == 0 else 1
    bolts = TopBolts(
        diameter_in=bolt_diameter_in,
        rows=rows,
        per_row=bolt_count // rows,
        hole_in=bolt_diameter_in + 1 / 16,
    )
    anchors = BaseAnchors(
        diameter_in=anchor_diameter_in,
        count=anchor_count,
        embedment_in=anchor_embedment_in,
        threads_per_in=sizes[anchor_diameter_in].threads_per_in,
    )
    return BraceKit(bolts, anchors, backer or Backer(), Tightening(torque_lbf_ft=torque_lbf_ft))
