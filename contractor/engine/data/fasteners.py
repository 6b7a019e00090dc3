"""Bolts, nails, washers and anchors: sizes from the named standards."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from contractor.engine.data.basis import MEMORY, READ, Basis


@dataclass(frozen=True)
class BoltSize:
    """Widths across flats: nuts ASME B18.2.2 (read in reproductions), heads B18.2.1 (memory).

    Standard hole: AISC 360 Table J3.3 (read); threads per inch: ASME B1.1 coarse (read).
    """

    diameter_in: Fraction
    hex_head_in: Fraction
    hex_nut_in: Fraction
    heavy_hex_nut_in: Fraction
    standard_hole_in: Fraction | None
    threads_per_in: int

    @property
    def tensile_area_in2(self) -> float:
        """Return 0.7854 (d - 0.9743/n)^2 (formula read in an ACI summary)."""
        return 0.7854 * (float(self.diameter_in) - 0.9743 / self.threads_per_in) ** 2


def _size(d: str, head: str, nut: str, heavy: str, hole: str | None, threads: int) -> BoltSize:
    drilled = Fraction(hole) if hole else None
    return BoltSize(Fraction(d), Fraction(head), Fraction(nut), Fraction(heavy), drilled, threads)


#: The 1 in standard hole is 1-1/16 or 1-1/8 by edition of AISC 360 (conflict): left open.
BOLTS: dict[Fraction, BoltSize] = {
    size.diameter_in: size
    for size in (
        _size("1/2", "3/4", "3/4", "7/8", "9/16", 13),
        _size("5/8", "15/16", "15/16", "17/16", "11/16", 11),
        _size("3/4", "9/8", "9/8", "5/4", "13/16", 10),
        _size("7/8", "21/16", "21/16", "23/16", "15/16", 9),
        _size("1", "3/2", "3/2", "13/8", None, 8),
    )
}
LARGE_HOLE_CONFLICT = (
    "1 in bolt: standard hole 1-1/16 in (360-10 and older) or 1-1/8 in (360-16 and later)"
)


@dataclass(frozen=True)
class Nail:
    """A nail; bending yield strength by diameter (NDS 2018 Table I1, from memory, confirm)."""

    name: str
    length_in: float
    diameter_in: float
    basis: Basis

    @property
    def bending_yield_psi(self) -> float:
        if self.diameter_in <= 0.142:
            return 100_000.0
        return 90_000.0 if self.diameter_in <= 0.177 else 80_000.0


NAILS: dict[str, Nail] = {
    nail.name: nail
    for nail in (
        Nail("16d common", 3.5, 0.162, READ),
        Nail("16d box", 3.5, 0.135, READ),
        Nail("16d sinker", 3.25, 0.148, MEMORY),
        Nail("10d common", 3.0, 0.148, READ),
        Nail("8d common", 2.5, 0.131, MEMORY),
    )
}
