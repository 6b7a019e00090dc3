"""Steel brace: bending (AISC 360-16 F2, F3), shear (G2.1) and deflection, ASD.

Equations from memory, confirm; they reproduce the AISC Manual values named in the tests.
kip, in, ksi.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from contractor.engine.data.basis import MEMORY, PRACTICE
from contractor.engine.data.steel_shapes import Grade, Shape
from contractor.engine.screening.checks import Check, Number, Step, compare

E_KSI = 29_000.0
OMEGA_BENDING = 1.67
OMEGA_SHEAR = 1.50
PHI_BENDING = 0.90


@dataclass(frozen=True)
class Bending:
    """Nominal strengths in kip in, limiting lengths in inches."""

    plastic: float
    lp_in: float
    lr_in: float
    lateral_torsional: float
    flange_local: float

    @property
    def nominal(self) -> float:
        return min(self.plastic, self.lateral_torsional, self.flange_local)

    @property
    def allowable(self) -> float:
        return self.nominal / OMEGA_BENDING

    @property
    def governs(self) -> str:
        if self.nominal == self.plastic:
            return "yielding"
        is_lateral = self.lateral_torsional <= self.flange_local
        return "lateral-torsional buckling" if is_lateral else "flange local buckling"


def lp_in(shape: Shape, fy_ksi: float) -> float:
    """Return the longest unbraced length that reaches Mp, F2-5."""
    return 1.76 * shape.ry_in * math.sqrt(E_KSI / fy_ksi)


def lr_in(shape: Shape, fy_ksi: float) -> float:
    """Return the unbraced length beyond which buckling is elastic, F2-6 (c = 1)."""
    reduced = 0.7 * fy_ksi / E_KSI
    ratio = shape.j_in4 / (shape.sx_in3 * shape.ho_in)
    return (
        1.95 * shape.rts_in / reduced * math.sqrt(ratio + math.sqrt(ratio**2 + 6.76 * reduced**2))
    )


def critical_stress_ksi(shape: Shape, unbraced_in: float, cb: float) -> float:
    """Return Fcr of elastic lateral-torsional buckling, F2-4."""
    slenderness = (unbraced_in / shape.rts_in) ** 2
    twist = 0.078 * shape.j_in4 / (shape.sx_in3 * shape.ho_in) * slenderness
    return cb * math.pi**2 * E_KSI / slenderness * math.sqrt(1 + twist)


def lateral_torsional(shape: Shape, fy_ksi: float, unbraced_in: float, cb: float = 1.0) -> float:
    """Return Mn of lateral-torsional buckling in kip in, F2-1 to F2-3."""
    plastic = fy_ksi * shape.zx_in3
    short, long = lp_in(shape, fy_ksi), lr_in(shape, fy_ksi)
    if unbraced_in <= short:
        return plastic
    if unbraced_in > long:
        return min(plastic, critical_stress_ksi(shape, unbraced_in, cb) * shape.sx_in3)
    share = (unbraced_in - short) / (long - short)
    return min(plastic, cb * (plastic - (plastic - 0.7 * fy_ksi * shape.sx_in3) * share))


def flange_local(shape: Shape, fy_ksi: float) -> float:
    """Return Mn of flange local buckling in kip in, F3-1 and F3-2; Mp for a compact flange."""
    plastic = fy_ksi * shape.zx_in3
    slenderness = shape.flange_slenderness
    compact = 0.38 * math.sqrt(E_KSI / fy_ksi)
    slender = 1.0 * math.sqrt(E_KSI / fy_ksi)
    if slenderness <= compact:
        return plastic
    if slenderness > slender:
        kc = min(0.76, max(0.35, 4 / math.sqrt(shape.web_slenderness)))
        return 0.9 * E_KSI * kc * shape.sx_in3 / slenderness**2
    share = (slenderness - compact) / (slender - compact)
    return plastic - (plastic - 0.7 * fy_ksi * shape.sx_in3) * share


def bending(shape: Shape, grade: Grade, unbraced_in: float, cb: float = 1.0) -> Bending:
    """Return the bending strength of a brace whose compression flange is free over a length."""
    fy = grade.fy_ksi
    return Bending(
        fy * shape.zx_in3,
        lp_in(shape, fy),
        lr_in(shape, fy),
        lateral_torsional(shape, fy, unbraced_in, cb),
        flange_local(shape, fy),
    )


def shear_nominal_kip(shape: Shape, fy_ksi: float) -> float:
    """Return Vn = 0.6 Fy d tw Cv1, G2-1; every shape of the table has Cv1 = 1 (G2.1a)."""
    if shape.web_slenderness > 2.24 * math.sqrt(E_KSI / fy_ksi):
        raise ValueError(f"{shape.name}: web too slender for G2.1(a)")
    return 0.6 * fy_ksi * shape.depth_in * shape.web_in


def bending_check(moment_lbf_in: float, shape: Shape, grade: Grade, unbraced_in: float) -> Check:
    """Return the bending check, kip in; Cb = 1.0 on the side of caution."""
    strength = bending(shape, grade, unbraced_in)
    demand = Number("M", moment_lbf_in / 1000, "kip in", label="largest moment from soil")
    fy = Number("Fy", grade.fy_ksi, "ksi", grade.basis)
    zx = Number("Zx", shape.zx_in3, "in3", "read")
    lb = Number("Lb", unbraced_in, "in", label="unbraced length: whole span")
    steps = (
        _step("Mp", "plastic moment", "{0} × {1}", (fy, zx), strength.plastic, "F2-1"),
        _lp_step(shape, grade, strength),
        _lr_step(shape, grade, strength),
        _ltb_step(shape, strength, fy, lb),
        _flb_step(shape, strength),
        _step(
            "Mn/Ωb",
            f"allowable moment ({strength.governs})",
            "{0} / {1}",
            (_kip_in("Mn", strength.nominal), Number("Ωb", OMEGA_BENDING, "")),
            strength.allowable,
            "F1(a)",
        ),
    )
    return compare(
        "beam_bending",
        "Beam in bending",
        demand.value,
        strength.allowable,
        "kip in",
        "AISC 360-16 F2, F3",
        steps,
        (demand, fy, zx, lb),
    )


def _kip_in(symbol: str, value: float) -> Number:
    return Number(symbol, value, "kip in")


def _step(
    symbol: str,
    label: str,
    pattern: str,
    numbers: tuple[Number, ...],
    value: float,
    clause: str,
    unit: str = "kip in",
) -> Step:
    return Step(symbol, label, pattern, numbers, value, unit, f"AISC 360-16 {clause}", MEMORY)


def _lp_step(shape: Shape, grade: Grade, strength: Bending) -> Step:
    numbers = (
        Number("ry", shape.ry_in, "in", "read"),
        Number("E", E_KSI, "ksi"),
        Number("Fy", grade.fy_ksi, "ksi", grade.basis),
    )
    pattern = "1.76 × {0} × √({1} / {2})"
    return _step("Lp", "limit of yielding", pattern, numbers, strength.lp_in, "F2-5", "in")


def _lr_step(shape: Shape, grade: Grade, strength: Bending) -> Step:
    numbers = (
        Number("rts", shape.rts_in, "in", "read"),
        Number("E", E_KSI, "ksi"),
        Number("Fy", grade.fy_ksi, "ksi", grade.basis),
        Number("J", shape.j_in4, "in4", "read"),
        Number("Sx", shape.sx_in3, "in3", "read"),
        Number("ho", shape.ho_in, "in", "read"),
    )
    inner = "{3}/({4} × {5})"
    pattern = (
        "1.95 × {0} × {1}/(0.7 × {2}) × "
        f"√({inner} + √(({inner})² + 6.76 × (0.7 × {{2}}/{{1}})²))"
    )
    return _step(
        "Lr", "limit of inelastic buckling", pattern, numbers, strength.lr_in, "F2-6", "in"
    )


def _ltb_step(shape: Shape, strength: Bending, fy: Number, lb: Number) -> Step:
    label = "lateral-torsional buckling"
    mp = _kip_in("Mp", strength.plastic)
    value = strength.lateral_torsional
    if lb.value <= strength.lp_in:
        return _step("Mn,LTB", label, "{0}", (mp,), value, "F2.2(a)")
    sx = Number("Sx", shape.sx_in3, "in3", "read")
    if lb.value > strength.lr_in:
        stress = Number("Fcr", value / shape.sx_in3, "ksi")
        return _step("Mn,LTB", label, "{0} × {1}", (stress, sx), value, "F2-3, F2-4")
    lp, lr = Number("Lp", strength.lp_in, "in"), Number("Lr", strength.lr_in, "in")
    pattern = "1.0 × [{0} − ({0} − 0.7 × {1} × {2}) × ({3} − {4}) / ({5} − {4})]"
    return _step("Mn,LTB", label, pattern, (mp, fy, sx, lb, lp, lr), value, "F2-2")


def _flb_step(shape: Shape, strength: Bending) -> Step:
    numbers = (
        _kip_in("Mp", strength.plastic),
        Number("λ", shape.flange_slenderness, "", "read", "bf / 2tf"),
    )
    if strength.flange_local == strength.plastic:
        pattern, clause = "{0} (compact flange, bf/2tf = {1})", "B4.1b"
    else:
        pattern, clause = "{0} reduced for a noncompact flange, bf/2tf = {1}", "F3-1"
    label = "flange local buckling"
    return _step("Mn,FLB", label, pattern, numbers, strength.flange_local, clause)


def shear_check(shear_lbf: float, shape: Shape, grade: Grade) -> Check:
    """Return the check of the web in shear, kip."""
    nominal = shear_nominal_kip(shape, grade.fy_ksi)
    fy = Number("Fy", grade.fy_ksi, "ksi", grade.basis)
    d = Number("d", shape.depth_in, "in", "read")
    tw = Number("tw", shape.web_in, "in", "read")
    vn = Number("Vn", nominal, "kip")
    omega = Number("Ωv", OMEGA_SHEAR, "")
    steps = (
        _step(
            "Vn", "web in shear", "0.6 × {0} × {1} × {2} × 1.0", (fy, d, tw), nominal, "G2-1", "kip"
        ),
        _step(
            "Vn/Ωv", "allowable shear", "{0} / {1}", (vn, omega), nominal / OMEGA_SHEAR, "G1", "kip"
        ),
    )
    demand = Number("V", shear_lbf / 1000, "kip", label="largest shear, at the base")
    return compare(
        "beam_shear",
        "Beam in shear",
        demand.value,
        nominal / OMEGA_SHEAR,
        "kip",
        "AISC 360-16 G2.1",
        steps,
        (demand, fy, d, tw),
    )


def deflection_check(
    ei_deflection_lbf_in3: float, shape: Shape, span_in: float, ratio: float
) -> Check:
    """Return the check of the largest deflection against span / ratio, inches."""
    deflection = ei_deflection_lbf_in3 / (E_KSI * 1000 * shape.ix_in4)
    span = Number("L", span_in, "in")
    limit = Number("n", ratio, "", PRACTICE, "company limit; L/360 to L/240 is common practice")
    load = Number("EIδ", ei_deflection_lbf_in3 / 1000, "kip in3")
    inertia = Number("I", shape.ix_in4, "in4", "read")
    modulus = Number("E", E_KSI, "ksi")
    steps = (
        Step(
            "δ",
            "largest deflection",
            "{0} / ({1} × {2})",
            (load, modulus, inertia),
            deflection,
            "in",
            "closed form, AISC Manual Table 3-23 case 2 for a full triangle",
        ),
        Step(
            "δ limit",
            "allowed deflection",
            "{0} / {1}",
            (span, limit),
            span_in / ratio,
            "in",
            "common practice",
            PRACTICE,
        ),
    )
    return compare(
        "beam_deflection",
        "Beam deflection",
        deflection,
        span_in / ratio,
        "in",
        "common practice (no brace limit in a published code)",
        steps,
        (inertia, span, limit),
    )
