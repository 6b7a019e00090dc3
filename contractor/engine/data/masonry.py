"""Concrete block: actual sizes, face shells, modulus of rupture (all from memory, confirm).

Modulus of rupture in psi: TMS 402-13/-16 Table 9.1.9.2, stress parallel to the bed joints in
running bond and normal to them. Editions up to 2011 are lower. Sizes and face shells: ASTM C90.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Mortar = Literal["pcl_ms", "pcl_n", "masonry_cement_ms", "masonry_cement_n"]
BlockFill = Literal["hollow", "grouted"]
STRENGTH_REDUCTION = 0.60
RUPTURE_CLAUSE = "TMS 402-16 Table 9.1.9.2"

RUPTURE_PARALLEL_PSI: dict[BlockFill, dict[Mortar, float]] = {
    "hollow": {"pcl_ms": 167, "pcl_n": 127, "masonry_cement_ms": 100, "masonry_cement_n": 64},
    "grouted": {"pcl_ms": 267, "pcl_n": 200, "masonry_cement_ms": 160, "masonry_cement_n": 100},
}
RUPTURE_NORMAL_PSI: dict[BlockFill, dict[Mortar, float]] = {
    "hollow": {"pcl_ms": 84, "pcl_n": 64, "masonry_cement_ms": 51, "masonry_cement_n": 31},
    "grouted": {"pcl_ms": 163, "pcl_n": 158, "masonry_cement_ms": 153, "masonry_cement_n": 145},
}
MORTAR_TITLES: dict[Mortar, str] = {
    "pcl_ms": "portland cement-lime mortar, type M or S",
    "pcl_n": "portland cement-lime mortar, type N",
    "masonry_cement_ms": "masonry cement mortar, type M or S",
    "masonry_cement_n": "masonry cement mortar, type N",
}


@dataclass(frozen=True)
class Block:
    """A block by nominal width; inches. The actual width is 3/8 in less than the nominal one."""

    nominal_in: int
    actual_in: float
    face_shell_in: float

    @property
    def hollow_modulus_in3_per_ft(self) -> float:
        """Return S of face-shell bedding, 12 (t^3 - core^3) / (6 t)."""
        core = self.actual_in - 2 * self.face_shell_in
        return 12 * (self.actual_in**3 - core**3) / (6 * self.actual_in)

    @property
    def solid_modulus_in3_per_ft(self) -> float:
        return 12 * self.actual_in**2 / 6


BLOCKS: dict[int, Block] = {
    6: Block(6, 5.625, 1.0),
    8: Block(8, 7.625, 1.25),
    10: Block(10, 9.625, 1.25),
    12: Block(12, 11.625, 1.25),
}


def block_of_thickness(thickness_in: float) -> Block | None:
    """Return the block whose nominal or actual width was measured (within 1/4 in)."""
    for block in BLOCKS.values():
        if block.actual_in - 0.25 <= thickness_in <= block.nominal_in + 0.25:
            return block
    return None
