"""Whole walls: stops, outcome, agreement with the layout, remedies, what-if, determinism."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.layout.braces import lay_out
from contractor.engine.screening.findings import REVIEW, WITHIN
from contractor.engine.screening.hardware import (
    Assumptions,
    BaseAnchors,
    BraceKit,
    Tightening,
    TopBolts,
)
from contractor.engine.screening.remedies import price_remedies, would_help
from contractor.engine.screening.screen import lightest_shape, screen
from contractor.engine.screening.sensitivity import sensitivity
from contractor.engine.screening.spacing import limit_of_case, spacing_limit
from contractor.engine.screening.whatif import Variant, what_if, what_if_document
from contractor.engine.survey import Soil
from tests.engine.screening.walls import INCH, reading, screened, survey

# ---------------------------------------------------------------- the stop list


def codes(**changes: Any) -> list[str]:
    found = screened(**changes)
    assert (found.outcome == REVIEW) == bool(found.reasons)
    return [reason.code for reason in found.reasons]


def test_an_ordinary_wall_is_within_limits() -> None:
    found = screened()
    assert (found.outcome, found.reasons) == (WITHIN, ())
    assert len(found.braces) == 5
    assert found.limit.ticks is not None and found.largest_bay_ticks <= found.limit.ticks
    assert found.governing is not None and 0 < (found.utilization or 0) <= 1


STOPS: list[tuple[str, dict[str, Any]]] = [
    ("soil_unknown", {"soil": None}),
    ("soil_unsuitable", {"soil": {"class": "CH"}}),
    ("thickness_unknown", {"wall__thickness": None}),
    ("wall_kind_unknown", {"wall__kind": None}),
    ("fill_unknown", {"wall__fill_height": None}),
    ("no_fill", {"wall__fill_height": "0 in"}),
    ("i_joists", {"framing__kind": "i_joist", "framing__size": None}),
    ("truss_joists", {"framing__kind": "truss", "framing__size": None}),
    ("steel_joists", {"framing__kind": "steel", "framing__size": None}),
    ("stone_wall", {"wall__kind": "stone"}),
    ("brick_wall", {"wall__kind": "brick"}),
    ("wood_wall", {"wall__kind": "wood"}),
    ("slab_edge_gap", {"slab__edge_gap": "3 in"}),
    ("slab_unknown", {"slab__thickness": None}),
    ("slab_too_thin", {"slab__thickness": "3 in"}),
    ("base_slide", {"distress__base_slide": "1/4 in"}),
    ("wall_settling", {"distress__settling": True}),
    ("water_above_slab", {"water_depth": "5 ft"}),
    ("undrained", {"drained": False}),
    (
        "fill_above_8_ft",
        {
            "wall__fill_height": "8 ft 1 in",
            "heights": [
                {"at": "0 in", "slab_to_subfloor": "9 ft"},
                {"at": "24 ft", "slab_to_subfloor": "9 ft"},
            ],
        },
    ),
    ("bow_above_t3", {"distress__readings": [reading("2 3/4 in")]}),
    ("bow_above_t6", {"distress__readings": [reading("1 1/2 in")]}),
    ("bow_above_2_in", {"wall__thickness": "14 in", "distress__readings": [reading("2 1/8 in")]}),
    ("bow_above_3_in", {"wall__thickness": "14 in", "distress__readings": [reading("3 1/8 in")]}),
    ("bow_only_at_corner", {"distress__readings": [reading("3/4 in", at="20 in")]}),
    ("joist_size_unknown", {"framing__size": None}),
]


@pytest.mark.parametrize(("code", "changes"), STOPS, ids=[code for code, _ in STOPS])
def test_each_stop_has_its_own_reason_and_still_a_sheet(code: str, changes: dict[str, Any]) -> None:
    from contractor.engine.screening.document import screening_document

    found = screened(**changes)
    reason = next(reason for reason in found.reasons if reason.code == code)
    assert found.outcome == REVIEW
    assert reason.text and reason.source and reason.kind in ("stop", "unknown")
    sheet = screening_document(found)
    assert sheet["outcome"] == REVIEW
    assert code in [row["code"] for row in sheet["reasons"]]
    assert sheet["braces"]


def test_the_stop_list_speaks_even_where_every_check_passes() -> None:
    found = screened(distress__base_slide="1/8 in")
    assert [reason.code for reason in found.reasons] == ["base_slide"]
    assert found.utilization is not None and found.utilization <= 1.0


def test_limits_of_the_bow_are_not_stops_themselves() -> None:
    """t/6 of 8 in is 1.33 in; 1-5/16 in stays below."""
    assert codes(distress__readings=[reading("1 5/16 in")]) == []


def test_seismic_category_of_the_company() -> None:
    found = screen(survey(), [36 * INCH], assumptions=Assumptions(seismic_category="D"))
    assert "seismic" in [reason.code for reason in found.reasons]


def test_a_wall_without_braces_is_not_within_limits() -> None:
    assert [reason.code for reason in screen(survey(), []).reasons] == ["no_braces"]


def test_a_check_that_cannot_be_made_is_a_reason() -> None:
    """A 9 in block has no section in the table."""
    found = screened(wall__kind="hollow_block", wall__thickness="9 in")
    assert [reason.code for reason in found.reasons] == ["wall_between_braces_not_computed"]


def test_bolts_without_strength_as_placed() -> None:
    """2x4 joists: two rows 3 in apart leave no edge distance."""
    found = screened(framing__size="2x4")
    text = next(reason.text for reason in found.reasons if reason.code == "top_bolts")
    assert "no strength as placed" in text


# ---------------------------------------------------------------- stand-ins and unknowns


def test_unknown_soil_names_its_stand_in_and_no_spacing() -> None:
    found = screened(soil=None)
    assert found.limit.ticks is None and found.limit.governs == "soil_unknown"
    assert "soil_stand_in" in [note.code for note in found.case.assumed]
    assert found.case.ground is not None and found.case.ground.fluid.psf_per_ft == 60
    assert {check.basis for check in found.classes[0].checks} == {"assumed"} or found.classes


def test_unknown_thickness_leaves_the_wall_unchecked() -> None:
    check = screened(wall__thickness=None).bays[0].check
    assert not check.is_computed and not check.passes
    assert "thickness" in check.reason


def test_unknown_species_takes_the_weakest_group() -> None:
    weak, known = screened(framing__species=None), screened()
    assert weak.case.species.name == "SPF-S"
    assert "weakest_species" in [note.code for note in weak.case.assumed]
    first, second = (
        next(check for check in found.classes[0].checks if check.code == "top_bolts")
        for found in (weak, known)
    )
    assert first.capacity is not None and second.capacity is not None
    assert first.capacity < second.capacity


def test_what_is_not_recorded_is_listed() -> None:
    found = screened(drained=None, slab__edge_gap=None, distress__base_slide=None)
    assert {"water", "slab_edge", "base_slide", "surcharge"} <= {
        note.code for note in found.case.unknowns
    }


def test_water_is_computed_though_it_stops() -> None:
    dry, wet = screened(), screened(water_depth="4 ft")
    assert wet.classes[0].demand.total_lbf > dry.classes[0].demand.total_lbf
    assert len(wet.case.layers) == 2


def test_unknown_shape_and_grade_are_refused() -> None:
    with pytest.raises(InputError) as refused:
        spacing_limit(survey(), shape="S9x99")
    assert refused.value.code == "unknown_shape"
    with pytest.raises(InputError) as refused:
        spacing_limit(survey(), grade="A37")
    assert refused.value.code == "unknown_grade"


# ---------------------------------------------------------------- layout and screening agree

WALLS = st.fixed_dictionaries(
    {
        "wall__kind": st.sampled_from(["poured_concrete", "hollow_block", "grouted_block"]),
        "wall__thickness": st.sampled_from(["8 in", "10 in", "12 in"]),
        "wall__fill_height": st.integers(36, 88).map(lambda inches: f"{inches} in"),
        "soil": st.sampled_from(["GW", "GM", "SM", "ML", "CL"]).map(lambda name: {"class": name}),
        "framing__species": st.sampled_from(["SPF", "SYP", "DFL", None]),
        "framing__size": st.sampled_from(["2x8", "2x10", "2x12"]),
        "wall__length": st.just("24 ft"),
        "heights": st.integers(90, 96).map(
            lambda inches: [
                {"at": "0 in", "slab_to_subfloor": "91 in"},
                {"at": "24 ft", "slab_to_subfloor": f"{inches} in"},
            ]
        ),
    }
)


@given(WALLS, st.sampled_from(["S4x7.7", "S5x10", "W6x12"]), st.booleans())
@settings(max_examples=40, deadline=None)
def test_a_layout_within_the_limit_never_fails_for_its_spacing(
    changes: dict[str, Any], shape: str, is_weak: bool
) -> None:
    kit = BraceKit(TopBolts(diameter_in=0.5, rows=1)) if is_weak else BraceKit()
    wall = survey(**changes)
    limit = spacing_limit(wall, shape=shape, kit=kit)
    if limit.ticks is None:
        return
    layout = lay_out(wall, spacing_limit_ticks=limit.ticks)
    found = screen(wall, layout, shape=shape, kit=kit, limit=limit)
    assert found.largest_bay_ticks <= limit.ticks
    for group in found.classes:
        assert all(check.passes for check in group.checks), group
    for bay in found.bays:
        is_corner = "corner" in (bay.from_mark, bay.to_mark)
        if not is_corner or bay.width_ticks <= (limit.corner_ticks or bay.width_ticks):
            assert bay.check.passes, bay


@given(WALLS)
@settings(max_examples=25, deadline=None)
def test_one_tick_more_fails(changes: dict[str, Any]) -> None:
    """Braces spaced evenly at the limit pass; one 1/64 in wider, something fails."""
    wall = survey(**changes, rules={"corner_max": "12 in", "corner_ideal": "12 in"})
    limit = spacing_limit(wall)
    if limit.ticks is None or limit.governs == "rule":
        return

    def fails(spacing: int) -> bool:
        case = screen(wall, [spacing], limit=limit).case
        return _fails_evenly(case, spacing)

    assert not fails(limit.ticks)
    assert fails(limit.ticks + 1)


def _fails_evenly(case: Any, spacing: int) -> bool:
    from contractor.engine.screening.brace import bay_check, brace_checks
    from contractor.engine.screening.brace_load import demand, span_of_height

    heights = {station.height_ticks / INCH for station in case.survey.stations}
    spans = [span_of_height(case, height) for height in heights]
    made = [
        check
        for span in spans
        for check in (
            *brace_checks(case, demand(case, span, spacing / INCH)),
            bay_check(case, spacing / INCH, span),
        )
    ]
    return any(not check.passes for check in made)


def test_a_limit_below_the_narrowest_spacing_is_said_not_used() -> None:
    weak = BraceKit(TopBolts(diameter_in=0.5, rows=1, per_row=1))
    wall = survey(soil={"class": "CL"}, wall__fill_height="7 ft")
    limit = spacing_limit(wall, kit=weak)
    assert limit.ticks is None
    assert limit.governs == "top_bolts"
    assert limit.carries_ticks is not None and limit.carries_ticks < wall.rules.spacing_min_ticks
    assert "engineer" in limit.note
    layout = lay_out(wall, spacing_limit_ticks=limit.ticks)
    found = screen(wall, layout, kit=weak)
    assert found.outcome == REVIEW
    assert {"sistered_joist", "more_bolts"} <= {remedy.code for remedy in would_help(found)}


def test_end_braces_carry_half_the_corner_bay() -> None:
    found = screen(survey(), [30 * INCH, 90 * INCH, 150 * INCH, 210 * INCH, 258 * INCH])
    widths = [brace.tributary_ticks / INCH for brace in found.braces]
    assert widths == [45, 60, 60, 54, 39]


def test_parallel_joists_check_backer_and_nails() -> None:
    found = screened(
        framing__joists="parallel", framing__centers={"first": "14 in", "spacing": "16 in"}
    )
    made = {check.code: check for check in found.classes[0].checks}
    assert made["top_bolts"].title == "Top bolts through the backer"
    assert made["backer_nails"].passes
    assert found.case.joists_crossed == 6


def test_unmeasured_parallel_joists_are_taken_far_apart() -> None:
    found = screened(framing__joists="parallel", framing__centers=None)
    assert "joist_spacing_stand_in" in [note.code for note in found.case.assumed]
    assert found.case.joists_crossed == 4


# ---------------------------------------------------------------- torque and lifting


def test_a_bow_limits_the_torque_until_the_gap_is_packed() -> None:
    found = screened(distress__readings=[reading("1 in")])
    assert found.torque is not None and found.torque_if_packed is not None
    assert found.torque.governs == "beam_bending"
    assert (found.torque.allowed_lbf_ft or 0) < (found.torque_if_packed.allowed_lbf_ft or 0) <= 50
    assert "largest reading, 44 in" in found.torque.note


def test_torque_keeps_every_part_within_its_strength() -> None:
    """At the allowed torque the upper end of the scatter reaches no limit."""
    found = screened(distress__readings=[reading("1 in", height="40 in")])
    assert found.torque is not None and found.torque.allowed_lbf_ft is not None
    bolt = Tightening()
    highest = found.torque.allowed_lbf_ft * 12 / (bolt.friction * bolt.diameter_in) * 1.3
    assert all(highest <= limit.force_lbf for limit in found.torque.limits)
    assert {limit.code for limit in found.torque.limits} == {
        *("top_bolts", "washer_bearing", "beam_bending", "base_anchors")
    }


# ---------------------------------------------------------------- help, sensitivity, what-if


def test_the_lightest_shape_is_the_first_that_passes() -> None:
    places = [36 * INCH, 96 * INCH, 156 * INCH, 216 * INCH, 252 * INCH]
    name = lightest_shape(survey(), places)
    assert name is not None
    found = screen(survey(), places, shape=name)
    beams = [c for group in found.classes for c in group.checks if c.code.startswith("beam_")]
    assert all(check.passes for check in beams)
    lighter = screen(survey(), places, shape="S3x5.7")
    assert not all(check.passes for group in lighter.classes for check in group.checks)


def test_remedies_lower_what_they_help() -> None:
    wall = survey(soil={"class": "CL"}, wall__thickness="12 in", wall__fill_height="7 ft 6 in")
    found = screen(wall, [36 * INCH, 108 * INCH, 180 * INCH, 252 * INCH], shape="S4x7.7")
    offered = would_help(found)
    assert {"closer_spacing", "lightest_shape", "sistered_joist", "more_bolts"} <= {
        remedy.code for remedy in offered
    }
    worst = {
        check.code: max(
            other.utilization or 0
            for group in found.classes
            for other in group.checks
            if other.code == check.code
        )
        for check in found.classes[0].checks
    }
    for remedy in offered:
        assert remedy.utilization < worst[remedy.helps], remedy
    closer = next(remedy for remedy in offered if remedy.code == "closer_spacing")
    assert closer.overall <= 1.0


def test_anchor_remedies() -> None:
    weak = BraceKit(anchors=BaseAnchors(diameter_in=0.5, threads_per_in=13, spacing_in=4.0))
    wall = survey(soil={"class": "CL"}, wall__thickness="12 in", wall__fill_height="7 ft")
    found = screen(wall, [36 * INCH, 108 * INCH, 180 * INCH, 252 * INCH], kit=weak)
    offered = {remedy.code: remedy for remedy in would_help(found)}
    assert {"more_anchors", "slab_pad"} <= set(offered)
    assert offered["slab_pad"].utilization < (found.utilization or 0)


def test_remedies_are_priced_by_the_caller() -> None:
    found = screen(survey(soil={"class": "CL"}, wall__fill_height="7 ft"), [36 * INCH, 252 * INCH])
    priced = price_remedies(would_help(found), lambda change: 100 if change.kit else 7)
    assert priced and {remedy.cost_cents for remedy in priced} <= {7, 100}


def test_sensitivity_worsens() -> None:
    found = screened()
    rows = sensitivity(found)
    assert [row.code for row in rows] == ["fill_plus_1_ft", "saturated"]
    for row in rows:
        assert row.utilization is not None and row.utilization > (found.utilization or 0)


def test_what_if_rows() -> None:
    variants = [
        Variant("as surveyed"),
        Variant("clay", soil=Soil("CL")),
        Variant("heavier beam", shape="W6x12"),
        Variant("closer", spacing_max_ticks=48 * INCH),
        Variant("backer", direction="parallel", center_ticks=(14 * INCH, 30 * INCH, 46 * INCH)),
        Variant("sistered", kit=BraceKit(is_joist_sistered=True)),
        Variant("deeper", fill_height_ticks=84 * INCH),
    ]
    rows = what_if(survey(), variants, price=lambda _, __, layout: (len(layout.braces) * 100, 1.5))
    assert [row.variant.name for row in rows] == [variant.name for variant in variants]
    assert rows[3].layout.largest_spacing_ticks is not None
    assert rows[3].layout.largest_spacing_ticks <= 48 * INCH
    assert all(row.cost_cents == 100 * row.braces and row.labour_h == 1.5 for row in rows)
    written = what_if_document(rows)["rows"]
    assert written[1]["utilization"] != written[0]["utilization"]
    assert what_if_document(rows) == what_if_document(
        what_if(survey(), variants, price=lambda _, __, layout: (len(layout.braces) * 100, 1.5))
    )


def test_utilization_grows_with_fill_and_spacing() -> None:
    places = [36 * INCH, 96 * INCH, 156 * INCH, 216 * INCH, 252 * INCH]
    ratios = [
        screen(survey(wall__fill_height=f"{fill} in"), places).utilization or 0
        for fill in (48, 60, 72, 84)
    ]
    assert all(low < high for low, high in pairwise(ratios))


def test_limit_of_a_prepared_case_is_the_same() -> None:
    case = screened().case
    assert limit_of_case(case) == spacing_limit(case.survey)
    assert limit_of_case(replace(case, assumptions=Assumptions(load_factor=3.2))) != (
        limit_of_case(case)
    )
