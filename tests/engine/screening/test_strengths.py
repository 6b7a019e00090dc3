"""Limit states against published examples, handbook values and other ways of computing."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from contractor.engine.data.fasteners import NAILS
from contractor.engine.data.lumber import SPECIES
from contractor.engine.data.masonry import BLOCKS, block_of_thickness
from contractor.engine.data.steel_shapes import GRADES, Shape, default_grade, shapes
from contractor.engine.screening import anchor_strength as anchors
from contractor.engine.screening import (
    anchors as anchor_checks,
)
from contractor.engine.screening import (
    bolts,
    check_strength,
    handling,
    nails,
    steel,
    torque,
    wall,
    wood,
)
from contractor.engine.screening.hardware import (
    Assumptions,
    Backer,
    BaseAnchors,
    Tightening,
    TopBolts,
    kit_with,
)
from contractor.engine.screening.loads import Ground, pressure_layers
from contractor.engine.screening.soil import fluid_given

A992 = GRADES["A992"]
W18X50 = Shape(
    "W18x50", 50.0, 14.7, 18.0, 7.50, 0.355, 0.570, 0.972, 800, 101, 88.9, 40.1, 1.65, 1.24, 3040,
    1.98, 17.4,
)  # fmt: skip
JOIST = bolts.WoodMember("the joist side", SPECIES["SPF"], 1.5, 9.25)

# ---------------------------------------------------------------- steel, AISC 360


def test_aisc_design_example_f1_2b() -> None:
    """AISC Design Examples v15.0 F.1-2B (read in a reproduction): W18x50, Lb 11.7 ft, Cb 1.01."""
    found = steel.bending(W18X50, A992, 11.7 * 12, cb=1.01)
    assert found.lp_in == pytest.approx(69.9, rel=2e-3)
    assert found.lr_in == pytest.approx(203, rel=2e-3)
    assert found.plastic == 5050
    assert found.nominal == pytest.approx(4062, rel=3e-3)
    assert found.allowable / 12 == pytest.approx(202.7, rel=3e-3)


def test_flange_local_buckling_example() -> None:
    """Worked example of AISC 360 F3 (read): W10x12, Mp 52.5, Mn 52.11 ft kip."""
    shape = shapes()["W10x12"]
    assert shape.zx_in3 * 50 / 12 == pytest.approx(52.5)
    assert steel.flange_local(shape, 50.0) / 12 == pytest.approx(52.11, rel=5e-4)


def test_w8x10_manual_values() -> None:
    """AISC Manual Table 3-2 (from memory): W8x10 phi Mp 32.9 kip ft, Lr 8.52 ft."""
    shape = shapes()["W8x10"]
    found = steel.bending(shape, A992, 0.0)
    assert 0.9 * found.nominal / 12 == pytest.approx(32.9, rel=3e-3)
    assert found.lr_in / 12 == pytest.approx(8.52, rel=3e-3)


@pytest.mark.parametrize("name", ["S3x5.7", "S5x10", "W4x13", "W6x12", "W8x10"])
def test_elastic_buckling_equals_the_classical_moment(name: str) -> None:
    """Mcr = pi/L sqrt(E Iy G J + (pi E/L)^2 Iy Cw), a textbook formula; within 1 %."""
    shape = shapes()[name]
    length = 2 * steel.lr_in(shape, 50.0)
    exact = check_strength.critical_moment(shape.iy_in4, shape.j_in4, shape.cw_in6, length)
    assert steel.lateral_torsional(shape, 50.0, length) == pytest.approx(exact, rel=1e-2)


@pytest.mark.parametrize("shape", shapes().values(), ids=lambda shape: shape.name)
def test_section_table_agrees_with_its_own_dimensions(shape: Shape) -> None:
    """Two flanges and a web by Steiner, fillets left out: A, Ix, Sx, Zx within 5 %."""
    web = shape.depth_in - 2 * shape.flange_in
    arm = (shape.depth_in - shape.flange_in) / 2
    flange = shape.flange_width_in * shape.flange_in
    area = 2 * flange + web * shape.web_in
    inertia = (
        2 * (flange * arm**2 + shape.flange_width_in * shape.flange_in**3 / 12)
        + shape.web_in * web**3 / 12
    )
    plastic = 2 * flange * arm + shape.web_in * web**2 / 4
    assert shape.area_in2 == pytest.approx(area, rel=0.05)
    assert shape.ix_in4 == pytest.approx(inertia, rel=0.05)
    assert shape.zx_in3 == pytest.approx(plastic, rel=0.05)
    assert shape.sx_in3 == pytest.approx(2 * shape.ix_in4 / shape.depth_in, rel=0.01)
    assert shape.weight_lb_per_ft == pytest.approx(shape.area_in2 * 3.4028, rel=0.015)
    assert shape.ry_in == pytest.approx(math.sqrt(shape.iy_in4 / shape.area_in2), rel=0.01)


def test_grades() -> None:
    """W: A992 (read). S: A36 until a mill certificate says otherwise (from memory)."""
    assert [default_grade(name) for name in ("S5x10", "W6x12")] == ["A36", "A992"]


def test_shear_of_a_stocky_web() -> None:
    """AISC 360-16 G2.1(a): 0.6 Fy d tw; every shape of the table is stocky at 50 ksi."""
    for shape in shapes().values():
        wanted = 0.6 * 50 * shape.depth_in * shape.web_in
        assert steel.shear_nominal_kip(shape, 50.0) == pytest.approx(wanted)
    slender = replace(W18X50, web_in=0.2)
    with pytest.raises(ValueError, match="too slender"):
        steel.shear_nominal_kip(slender, 50.0)


def test_deflection_check_reads_the_worked_beam() -> None:
    """reference values, section 2: 0.103613 in for the partial triangle on I = 12.3 in4."""
    from contractor.engine.screening.statics import Segment, simply_supported

    load = simply_supported((Segment(0.0, 72.0, 112.5, 0.0),), 90.0)
    check = steel.deflection_check(load.ei_deflection.value, shapes()["S5x10"], 90.0, 240.0)
    assert check.demand == pytest.approx(0.103613, rel=1e-5)
    assert check.capacity == 0.375


# ---------------------------------------------------------------- wood, NDS


@pytest.mark.parametrize("diameter", [0.5, 0.625, 0.75])
@pytest.mark.parametrize("gravity", [0.36, 0.42, 0.50, 0.55])
@pytest.mark.parametrize("main", [1.5, 3.0])
def test_yield_equations_equal_the_general_dowel_equations(
    diameter: float, gravity: float, main: float
) -> None:
    """AWC Technical Report 12 general dowel equations (from memory), another form of NDS 12.3."""
    fe = wood.bolt_bearing_parallel_psi(gravity)
    found = wood.single_shear(wood.Dowel(diameter, main, 0.25, fe, 87_000, 45_000, True))
    other = check_strength.dowel_lbf(diameter, (main, fe), (0.25, 87_000), 45_000, (4.0, 3.6, 3.2))
    assert found.value_lbf == pytest.approx(other, rel=1e-9)


@pytest.mark.parametrize(
    ("area_in2", "factors"),
    [(5.0, [0.97, 0.89, 0.80, 0.70, 0.62, 0.55]), (8.0, [0.98, 0.93, 0.85, 0.77, 0.70, 0.63])],
)
def test_group_action_of_the_printed_table(area_in2: float, factors: list[float]) -> None:
    """NDS Table 11.3.6C, Am/As 12, rows of 2 to 7 (from memory): D 1 in, s 4 in, E 1.4e6, 30e6."""
    found = [
        wood.group_action(n, 4.0, 1.0, 1.4e6 * area_in2, 30e6 * area_in2 / 12, True)
        for n in range(2, 8)
    ]
    assert [round(value, 2) for value in found] == factors


def test_hankinson_between_its_ends() -> None:
    """NDS 12.3.4: at 45 degrees 2 a b / (a + b)."""
    a = wood.bolt_bearing_parallel_psi(0.5)
    b = wood.bolt_bearing_perpendicular_psi(0.5, 0.625)
    assert wood.bolt_bearing_psi(0.5, 0.625, 0.0) == pytest.approx(a)
    assert wood.bolt_bearing_psi(0.5, 0.625, 90.0) == pytest.approx(b)
    assert wood.bolt_bearing_psi(0.5, 0.625, 45.0) == pytest.approx(2 * a * b / (a + b))


def test_four_three_quarter_bolts_of_the_sense_check() -> None:
    """Reference values 4.4: 4 x 770.5 x 0.9 = 2774 along the grain, 1295 across, unreduced."""
    four = TopBolts(diameter_in=0.75, hole_in=0.8125)
    along = bolts.strength(four, JOIST, wood.PERMANENT)
    across = bolts.strength(four, replace(JOIST, angle_deg=90.0), wood.PERMANENT)
    assert along.count * along.duration * along.yield_value.value_lbf == pytest.approx(
        2774, rel=1e-3
    )
    assert across.count * across.duration * across.yield_value.value_lbf == pytest.approx(
        1295, rel=5e-3
    )


def test_placement_reduces_and_forbids() -> None:
    """NDS 12.5.1 (from memory): end 7D toward the end, half of it the least; spacing 4D, 3D."""
    toward = TopBolts(is_toward_end=True, end_distance_in=7 * 0.625)
    assert bolts.placement_factor(toward, JOIST) == 1.0
    near = replace(toward, end_distance_in=5 * 0.625)
    assert bolts.placement_factor(near, JOIST) == pytest.approx(5 / 7)
    assert bolts.placement_factor(replace(toward, end_distance_in=2.0), JOIST) == 0.0
    tight = TopBolts(spacing_in=3.2 * 0.625)
    assert bolts.placement_factor(tight, JOIST) == pytest.approx(0.8)
    shallow = replace(JOIST, depth_in=4.5)
    assert bolts.placement_factor(TopBolts(), shallow) == 0.0


def test_loaded_edge_across_the_grain() -> None:
    """NDS 12.5.1.3: 4D from a loaded edge; a 2x6 is too shallow for two rows of 5/8 in."""
    across = replace(JOIST, angle_deg=90.0)
    assert bolts.edge_distance_in(TopBolts(), across) == pytest.approx(3.125)
    assert bolts.placement_factor(TopBolts(), across) == 1.0
    assert bolts.placement_factor(TopBolts(), replace(across, depth_in=5.5)) == 0.0


def test_washer_bearing() -> None:
    """NDS 3.10.2: Fc-perp times the net area; SPF 425 psi (from memory)."""
    check = bolts.washer_check(1200.0, 2.0, TopBolts(), JOIST)
    assert check.demand == pytest.approx(1200 * 2 / (3 * 2))
    assert check.capacity == pytest.approx(425 * (9 - math.pi * 0.6875**2 / 4))


def test_nails_of_the_backer() -> None:
    """NDS Table 12N (from memory): 16d common in SPF 120 lbf; 16 in joists: 39 nails, CD 0.9."""
    assert nails.nail_count(Backer(), 7) == 39  # reference values, section 10: 6 blocks, 7 joists
    check = nails.group_check(
        1000.0, Backer(), SPECIES["SPF"], 7, is_species_known=True, is_measured=True
    )
    assert check.capacity == pytest.approx(39 * 119.6 * 0.9, rel=1e-3)


def test_a_short_nail_is_refused() -> None:
    """NDS 12.1.6.5: at least 6D in the main member (read)."""
    with pytest.raises(ValueError, match="6 diameters"):
        nails.nail_value(NAILS["8d common"], 2.0, 0.5)


# ---------------------------------------------------------------- anchors, ACI 318-19 ch. 17


@pytest.mark.parametrize(
    ("depth", "diameter", "edge", "fc", "wanted"),
    [
        (10.0, 0.75, 6.0, 5000, 9353),
        (8.0, 0.625, 8.0, 4000, 12_004),
        (3.25, 0.5, 5.0, 3000, 4407),
    ],
)
def test_basic_breakout_in_shear(
    depth: float, diameter: float, edge: float, fc: float, wanted: float
) -> None:
    """Design guide to ACI 318-19 17.7.2.2.1 (October 2025, read), pages 98, 139, 157."""
    assert anchors.basic_shear_lbf(depth, diameter, edge, fc) == pytest.approx(wanted, rel=1e-3)


def test_group_breakout_in_shear_of_the_guide() -> None:
    """Same guide: p. 139 (576/288 x Vb, thick) and p. 147 (thin slab: psi-h = sqrt(15/6))."""
    assert anchors.group_shear_lbf(1, 0.0, 8.0, 12.0, 12_004) == pytest.approx(12_004)
    doubled = anchors.group_shear_lbf(2, 24.0, 8.0, 12.0, 12_004)
    assert doubled == pytest.approx(576 / 288 * 12_004)
    thin = anchors.group_shear_lbf(1, 0.0, 10.0, 6.0, 1000.0)
    assert thin == pytest.approx(30 * 6 / 450 * 1.58 * 1000, rel=2e-3)


@pytest.mark.parametrize(
    ("kc", "fc", "depth", "wanted"),
    [(21, 4000, 5.75, 18_313), (17, 4500, 12.0, 47_405), (17, 3000, 4.0, 7449)],
)
def test_basic_breakout_in_tension(kc: float, fc: float, depth: float, wanted: float) -> None:
    """Design guide to ACI 318-19 17.6.2.2.1 (October 2025, read), pages 86, 73, 145."""
    assert anchors.basic_tension_lbf(depth, fc, kc) == pytest.approx(wanted, rel=1e-3)


def test_edge_factor_of_the_guide() -> None:
    """Same guide, p. 86: 0.7 + 0.3 x 8.0/8.625 = 0.978; p. 73: 0.8."""
    assert anchors.edge_factor_tension(8.0, 5.75) == pytest.approx(0.978, abs=5e-4)
    assert anchors.edge_factor_tension(6.0, 12.0) == pytest.approx(0.8)


def test_pryout_factor_changes_at_two_and_a_half_inches() -> None:
    """ACI 318-19 17.7.3.1 (read): kcp 1.0 below 2.5 in, 2.0 from there."""
    assert [anchors.pryout_factor(depth) for depth in (2.49, 2.5)] == [1.0, 2.0]


def test_thin_slab_limits_the_embedment() -> None:
    """ACI 318-19 17.9.4 (from memory): greater of two thirds and the thickness less 4 in."""
    assert anchors.embedment_limit_in(4.0) == pytest.approx(8 / 3)
    assert anchors.embedment_limit_in(13.5) == 9.5
    thin = anchors.strength(BaseAnchors(), anchors.Slab(3.5, 2500, 7.5))
    full = anchors.strength(BaseAnchors(), anchors.Slab(4.0, 2500, 7.5))
    assert thin.embedment_in == pytest.approx(7 / 3)
    assert thin.pryout < 0.5 * full.pryout  # kcp falls from 2 to 1 too


def test_steel_of_an_anchor() -> None:
    """0.6 Ase futa, Ase 0.2260 in2 of 5/8-11 (reference values 4.1), phi 0.60 (read)."""
    found = anchors.strength(BaseAnchors(), anchors.Slab(4.0, 2500, 7.5))
    assert anchors.stress_area_in2(BaseAnchors()) == pytest.approx(0.2260, rel=5e-4)
    assert found.steel_shear == pytest.approx(2 * 0.6 * 0.6 * 0.2260 * 58_000, rel=5e-4)


def test_interaction() -> None:
    """ACI 318-19 17.8 (from memory): alone up to 0.2, then the sum over 1.2."""
    assert anchors.interaction(0.9, 0.2) == 0.9
    assert anchors.interaction(0.9, 0.3) == pytest.approx(1.0)
    slab = anchors.Slab(4.0, 2500, 7.5)
    allowed = anchors.allowed_shear_lbf(BaseAnchors(), slab, 1.6)
    ratios = anchor_checks.checks(allowed, BaseAnchors(), slab, 1.6)[-1]
    assert ratios.code == "anchor_interaction"
    assert ratios.utilization == pytest.approx(1.0, rel=1e-9)


def test_breakout_counts_only_with_an_edge_towards_the_room() -> None:
    """The foot pushes into the room: the slab's edge at the wall lies behind the anchors."""
    slab = anchors.Slab(4.0, 2500, 7.5)
    codes = [check.code for check in anchor_checks.checks(2000.0, BaseAnchors(), slab, 1.6)]
    assert "anchor_breakout_shear" not in codes
    joint = BaseAnchors(room_edge_in=6.0)
    made = {check.code: check for check in anchor_checks.checks(2000.0, joint, slab, 1.6)}
    basic = anchors.basic_shear_lbf(2.5, 0.625, 6.0, 2500)
    wanted = 0.70 * (18 + 8) * 4 / 162 * math.sqrt(9 / 4) * basic
    assert made["anchor_breakout_shear"].capacity == pytest.approx(wanted)


# ---------------------------------------------------------------- torque, wall, lifting


def test_torque_and_scatter() -> None:
    """Reference values 4.3 (read): 3/8-16, 4940 lbf from 30 and 23 lbf ft at K 0.20, 0.15."""
    assert torque.bolt_force_lbf(30, 0.375, 0.20) == pytest.approx(4940, rel=0.035)
    assert torque.bolt_force_lbf(23, 0.375, 0.15) == pytest.approx(4940, rel=0.01)
    low, nominal, high = torque.force_range_lbf(50, Tightening())
    assert (low, nominal, high) == pytest.approx((2800, 4000, 5200))
    assert torque.torque_for_force_lbf_ft(5200, Tightening()) == pytest.approx(50)


def test_head_force_over_a_contact_point() -> None:
    """Statics: F L = C x, so the moment is F (L - x) and the foot pushes F (L/x - 1)."""
    assert torque.head_force_of_moment(102_000, 90.0, 45.0) == pytest.approx(2266.7, rel=1e-4)
    assert torque.head_force_of_base(1000, 90.0, 60.0) == pytest.approx(2000)


def test_torque_never_exceeds_the_company_value() -> None:
    free = torque.torque_limit([("a", "a", 1e6, "")], Tightening(), "")
    held = torque.torque_limit([("a", "a", 1e6, ""), ("b", "b", 2080, "")], Tightening(), "")
    assert (free.allowed_lbf_ft, free.governs) == (50, "company")
    assert (held.allowed_lbf_ft, held.governs) == (20, "b")


def test_concrete_wall_of_the_reference() -> None:
    """Reference values, section 5: 3000 psi, 480 psf, 8 in: 4 ft passes (144 < 164), 5 ft fails."""
    panel = wall.panel_of("poured_concrete", 8.0, Assumptions(wall_fc_psi=3000), 0.0)
    assert panel is not None and panel.design_psi == pytest.approx(164, abs=0.5)
    layers = pressure_layers(Ground(96.0 + 6.0, fluid_given(60.0)))  # 480 psf half a foot up
    four = wall.panel_check(panel, layers, 48.0, 1.6)
    five = wall.panel_check(panel, layers, 60.0, 1.6)
    assert four.demand == pytest.approx(144, abs=0.5) and four.passes
    assert five.demand == pytest.approx(225, abs=0.5) and not five.passes


def test_hollow_block_base_strip_of_the_reference() -> None:
    """reference values, section 5: type N, 480 psf, 3 ft: 128 psi against 76 fails at the base."""
    panel = wall.panel_of("hollow_block", 8.0, Assumptions(), 36.0)
    assert panel is not None and panel.design_psi == pytest.approx(76, abs=0.3)
    layers = pressure_layers(Ground(102.0, fluid_given(60.0)))
    check = wall.panel_check(panel, layers, 36.0, 1.6)
    base = next(step for step in check.steps if step.symbol == "fu base")
    assert base.value == pytest.approx(128, abs=0.5)
    assert check.demand is not None and check.demand < base.value


def test_hollow_block_is_judged_at_the_lower_of_crack_and_bent_most() -> None:
    layers = pressure_layers(Ground(72.0, fluid_given(45.0)))
    uncracked = wall.crack_line_in(layers, 90.0, [])
    assert uncracked == pytest.approx(
        34.8194, abs=1e-3
    )  # reference values, section 2, partial case
    assert wall.crack_line_in(layers, 90.0, [24.0]) == 24.0
    assert wall.crack_line_in(layers, 90.0, [60.0]) == uncracked


def test_block_sections() -> None:
    """NCMA TEK 14-1B, 8 in face-shell bedding (from memory): S 81.0, I 308.7 per foot."""
    block = BLOCKS[8]
    assert block.hollow_modulus_in3_per_ft == pytest.approx(81.0, abs=0.05)
    assert block.hollow_modulus_in3_per_ft * block.actual_in / 2 == pytest.approx(308.7, abs=0.1)
    assert block_of_thickness(7.625) is block_of_thickness(8.0) is block
    assert block_of_thickness(9.0) is None


def test_lifting_limit_of_a_published_example() -> None:
    """NIOSH lifting equation, solved exercise (read): H 20, V 6, D 16, fair grip: 18.4 lb."""
    lift = handling.Lift(20, 6, 16, coupling=0.95)
    assert handling.recommended_limit_lb(lift) == pytest.approx(18.4, rel=0.01)


def test_lifting_in_the_best_place() -> None:
    """DHHS 94-110 (read): 51 lb at H 10, V 30, D 10."""
    assert handling.recommended_limit_lb(handling.Lift(10, 30, 10, coupling=1.0)) == 51.0
    beam = handling.handling(10.0, 93.0, 2)
    assert beam.beam_weight_lb == 77.5
    assert beam.lifters_needed == math.ceil(77.5 / beam.limit_lb)


def test_a_kit_of_other_sizes() -> None:
    kit = kit_with(bolt_count=2, bolt_diameter_in=0.5, anchor_count=2, anchor_diameter_in=0.5)
    assert (kit.bolts.count, kit.bolts.rows, kit.bolts.hole_in) == (2, 2, 0.5625)
    assert kit.anchors.threads_per_in == 13
    with pytest.raises(ValueError, match="no such bolt size"):
        kit_with(bolt_count=2, bolt_diameter_in=0.55, anchor_count=2, anchor_diameter_in=0.5)
