"""Strengths for the checker, by other ways than the screening takes.

Lateral-torsional buckling from the classical critical moment; dowels from the general dowel
equations of AWC Technical Report 12 (from memory, confirm) instead of the NDS ones; loads and
deflections by summing thin slices. kip, in, lbf as the names say. Shares no code with the
screening; section data are the same table.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

E_KSI = 29_000.0
G_KSI = 11_200.0
SLICES = 1200

#: IBC 2021 Table 1610.1, active, typed again from the reference for this checker alone.
IBC_ACTIVE = {
    "GW": 30.0,
    "GP": 30.0,
    "GM": 40.0,
    "GC": 45.0,
    "SW": 30.0,
    "SP": 30.0,
    "SM": 45.0,
    "SM-SC": 45.0,
    "SC": 60.0,
    "ML": 45.0,
    "ML-CL": 60.0,
    "CL": 60.0,
}


def slice_beam(
    pressure_psf: Callable[[float], float], span_in: float, width_in: float
) -> dict[str, float]:
    """Return total, top, base (lbf), moment (lbf in) and EI deflection (lbf in3) by slices."""
    step = span_in / SLICES
    middles = [(number + 0.5) * step for number in range(SLICES)]
    loads = [pressure_psf(x) / 144 * width_in * step for x in middles]
    total = sum(loads)
    top = sum(load * x for load, x in zip(loads, middles, strict=True)) / span_in
    shear, moment, moments = total - top, 0.0, []
    for load in loads:
        moment += shear * step - load * step / 2
        shear -= load
        moments.append(moment)
    return {
        "total": total,
        "reaction_top": top,
        "reaction_base": total - top,
        "moment": max(moments),
        "ei_deflection": _deflection(moments, middles, span_in, step),
    }


def _deflection(
    moments: Sequence[float], middles: Sequence[float], span_in: float, step: float
) -> float:
    """Return the largest deflection by the moment-area way, times EI."""
    ends = [middle + step / 2 for middle in middles]
    end_turn = (
        sum(moment * (span_in - x) for moment, x in zip(moments, ends, strict=True))
        * step
        / span_in
    )
    area = first = best = 0.0
    for moment, x in zip(moments, ends, strict=True):
        area += moment * step
        first += moment * x * step
        best = max(best, end_turn * x - (area * x - first))
    return best


def critical_moment(iy: float, j: float, cw: float, length_in: float) -> float:
    """Return the elastic critical moment of a beam under equal end moments, kip in."""
    torsion = E_KSI * iy * G_KSI * j
    warping = (math.pi * E_KSI / length_in) ** 2 * iy * cw
    return math.pi / length_in * math.sqrt(torsion + warping)


def bending_allowable(section: dict[str, float], fy_ksi: float, unbraced_in: float) -> float:
    """Return Mn / 1.67 in kip in; the limit of inelastic buckling is sought, not computed."""
    plastic, reduced = fy_ksi * section["zx"], 0.7 * fy_ksi * section["sx"]
    short = 1.76 * section["ry"] * math.sqrt(E_KSI / fy_ksi)
    low, high = short, 2000.0
    for _ in range(80):
        middle = (low + high) / 2
        is_stocky = critical_moment(section["iy"], section["j"], section["cw"], middle) > reduced
        low, high = (middle, high) if is_stocky else (low, middle)
    if unbraced_in > high:
        buckling = critical_moment(section["iy"], section["j"], section["cw"], unbraced_in)
    else:
        share = max(0.0, unbraced_in - short) / (high - short)
        buckling = plastic - (plastic - reduced) * share
    return min(plastic, buckling, _flange(section, fy_ksi, plastic, reduced)) / 1.67


def _flange(section: dict[str, float], fy_ksi: float, plastic: float, reduced: float) -> float:
    root = math.sqrt(E_KSI / fy_ksi)
    slenderness = section["bf"] / 2 / section["tf"]
    share = min(1.0, max(0.0, (slenderness - 0.38 * root) / (0.62 * root)))
    return plastic - (plastic - reduced) * share


def dowel_lbf(
    diameter: float,
    main: tuple[float, float],
    side: tuple[float, float],
    yield_psi: float,
    reductions: tuple[float, float, float],
) -> float:
    """Return the least of the six modes; ``main`` and ``side`` are (length, bearing psi).

    General dowel equations: P solves A P2 + B P + C = 0 for each mode.
    """
    (lm, fm), (ls, fs) = main, side
    qm, qs, plastic = fm * diameter, fs * diameter, yield_psi * diameter**3 / 6
    quadratics = (
        (1 / (4 * qs) + 1 / (4 * qm), (ls + lm) / 2, -qs * ls**2 / 4 - qm * lm**2 / 4, 1),
        (1 / (2 * qs) + 1 / (4 * qm), lm / 2, -plastic - qm * lm**2 / 4, 2),
        (1 / (4 * qs) + 1 / (2 * qm), ls / 2, -qs * ls**2 / 4 - plastic, 2),
        (1 / (2 * qs) + 1 / (2 * qm), 0.0, -2 * plastic, 2),
    )
    values = [qm * lm / reductions[0], qs * ls / reductions[0]]
    for a, b, c, kind in quadratics:
        values.append((-b + math.sqrt(b * b - 4 * a * c)) / (2 * a) / reductions[kind])
    return min(values)


def anchor_pryout_lbf(
    count: float, spacing: float, edge: float, depth: float, fc_psi: float
) -> float:
    """Return the design pryout strength of a line of anchors."""
    reach = 1.5 * depth
    along = 2 * reach + (count - 1) * min(spacing, 2 * reach)
    share = along * (reach + min(edge, reach)) / (2 * reach) ** 2
    near = min(1.0, 0.7 + 0.3 * edge / reach)
    cone = 17 * math.sqrt(fc_psi * depth**3)
    return 0.70 * (2 if depth >= 2.5 else 1) * share * near * cone
