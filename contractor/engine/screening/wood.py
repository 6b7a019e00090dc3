"""Yield limit equations for dowels in wood, NDS 2018 12.3 (from memory, confirm).

lbf, in, psi. Main member m is the wood that holds the fastener, side member s the plate or
board against it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

LARGE_DIAMETER_IN = 0.25
#: Soil pushes for good: NDS 2018 Table 2.3.2, permanent load (from memory, confirm).
PERMANENT = 0.9
#: Tightening passes within minutes and relaxes: ten-minute load of the same table.
TEN_MINUTES = 1.6
STEEL_PLATE_BEARING = 1.5  # Fe of hot-rolled plate over Fu, NDS Appendix I (read)


@dataclass(frozen=True)
class Dowel:
    diameter_in: float
    main_in: float
    side_in: float
    main_fe_psi: float
    side_fe_psi: float
    bending_yield_psi: float
    is_bolt: bool
    angle_deg: float = 0.0


@dataclass(frozen=True)
class Yield:
    """Reference design value in lbf and the mode that sets it."""

    value_lbf: float
    mode: str
    modes: tuple[tuple[str, float], ...]


def round_to_50(stress_psi: float) -> float:
    """Return a bearing strength as the NDS tables print it, to the nearest 50 psi."""
    return math.floor(stress_psi / 50 + 0.5) * 50.0


def nail_bearing_psi(gravity: float) -> float:
    """Return Fe = 16600 G^1.84 for D < 1/4 in, unrounded (NDS Table 12.3.3)."""
    return float(16_600 * gravity**1.84)


def bolt_bearing_parallel_psi(gravity: float) -> float:
    """Return Fe parallel to grain, 11200 G, to 50 psi."""
    return round_to_50(11_200 * gravity)


def bolt_bearing_perpendicular_psi(gravity: float, diameter_in: float) -> float:
    """Return Fe perpendicular to grain, 6100 G^1.45 / sqrt(D), to 50 psi."""
    return round_to_50(6_100 * gravity**1.45 / math.sqrt(diameter_in))


def bolt_bearing_psi(gravity: float, diameter_in: float, angle_deg: float) -> float:
    """Return Fe at an angle to the grain by Hankinson, NDS 12.3.4."""
    along = bolt_bearing_parallel_psi(gravity)
    across = bolt_bearing_perpendicular_psi(gravity, diameter_in)
    sine = math.sin(math.radians(angle_deg)) ** 2
    return along * across / (along * sine + across * (1 - sine))


def nail_reduction(diameter_in: float) -> float:
    """Return KD of NDS Table 12.3.1B for D < 1/4 in."""
    return 2.2 if diameter_in <= 0.17 else 10 * diameter_in + 0.5


def _reductions(dowel: Dowel) -> tuple[float, float, float]:
    """Return Rd of modes I, II, and III with IV (NDS Table 12.3.1B)."""
    if not dowel.is_bolt:
        reduction = nail_reduction(dowel.diameter_in)
        return reduction, reduction, reduction
    turn = 1 + 0.25 * dowel.angle_deg / 90
    return 4.0 * turn, 3.6 * turn, 3.2 * turn


def single_shear(dowel: Dowel) -> Yield:
    """Return the lowest of the six modes, NDS 12.3-1 to 12.3-6."""
    d, fem, fes = dowel.diameter_in, dowel.main_fe_psi, dowel.side_fe_psi
    lm, ls, fyb = dowel.main_in, dowel.side_in, dowel.bending_yield_psi
    bearing, tilt, hinge = _reductions(dowel)
    re, rt = fem / fes, lm / ls
    k1 = (math.sqrt(re + 2 * re**2 * (1 + rt + rt**2) + rt**2 * re**3) - re * (1 + rt)) / (1 + re)
    k2 = -1 + math.sqrt(2 * (1 + re) + 2 * fyb * (1 + 2 * re) * d**2 / (3 * fem * lm**2))
    k3 = -1 + math.sqrt(2 * (1 + re) / re + 2 * fyb * (2 + re) * d**2 / (3 * fem * ls**2))
    modes = (
        ("Im", d * lm * fem / bearing),
        ("Is", d * ls * fes / bearing),
        ("II", k1 * d * ls * fes / tilt),
        ("IIIm", k2 * d * lm * fem / ((1 + 2 * re) * hinge)),
        ("IIIs", k3 * d * ls * fem / ((2 + re) * hinge)),
        ("IV", d**2 / hinge * math.sqrt(2 * fem * fyb / (3 * (1 + re)))),
    )
    mode, lowest = min(modes, key=lambda item: item[1])
    return Yield(lowest, mode, modes)


def group_action(
    per_row: int,
    spacing_in: float,
    diameter_in: float,
    main_ea: float,
    side_ea: float,
    is_steel_side: bool,
) -> float:
    """Return Cg of a row of fasteners, NDS 2018 11.3-1 (from memory, confirm).

    ``main_ea`` and ``side_ea`` are E A of the two members in lbf.
    """
    if per_row == 1 or diameter_in < LARGE_DIAMETER_IN:
        return 1.0
    slip = (270_000 if is_steel_side else 180_000) * diameter_in**1.5
    u = 1 + slip * spacing_in / 2 * (1 / main_ea + 1 / side_ea)
    m = u - math.sqrt(u**2 - 1)
    ratio = min(main_ea / side_ea, side_ea / main_ea)
    n = per_row
    first = m * (1 - m ** (2 * n)) / (n * ((1 + ratio * m**n) * (1 + m) - 1 + m ** (2 * n)))
    return float(first * (1 + ratio) / (1 - m))


def geometry_factor(actual_in: float, minimum_in: float, full_in: float) -> float:
    """Return C-delta of one distance: 1 when full, in proportion below, 0 under the minimum."""
    if actual_in >= full_in:
        return 1.0
    return 0.0 if actual_in < minimum_in else actual_in / full_in
