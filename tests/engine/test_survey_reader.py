"""Surveys read strictly, and written back the same."""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from contractor.engine import units
from contractor.engine.data.lumber import dressed_size_in
from contractor.engine.errors import InputError
from contractor.engine.survey import Rules, Soil
from contractor.engine.survey_reader import read_survey
from contractor.engine.survey_writer import write_survey

SURVEYS = sorted((Path(__file__).parents[2] / "fixtures" / "surveys").glob("*.json"))
BASE: dict[str, Any] = {
    "schema": "wall-survey/1",
    "name": "north wall",
    "wall": {
        "length": "24 ft",
        "kind": "hollow_block",
        "thickness": "8 in",
        "fill_height": "6 ft 6 in",
        "damage": "normal",
    },
    "soil": {"class": "CL"},
    "framing": {
        "joists": "perpendicular",
        "kind": "sawn",
        "size": "2x10",
        "species": "SPF",
        "centers": {"first": "8 in", "spacing": "16 in"},
    },
    "heights": [
        {"at": "0 in", "slab_to_subfloor": "7'-9 1/2\""},
        {"at": "24 ft", "slab_to_subfloor": "7'-10\""},
    ],
}
OPENING = {"kind": "opening", "label": "window", "from": "9 ft", "to": "11 ft"}
UNSET = object()


def changed(path: str, value: object) -> dict[str, Any]:
    """Return the base document with the member at ``path`` replaced, or dropped when UNSET."""
    document = copy.deepcopy(BASE)
    target: Any = document
    *parents, last = path.strip("/").split("/")
    for key in parents:
        target = target[int(key)] if isinstance(target, list) else target.setdefault(key, {})
    if value is UNSET:
        del target[last]
    elif isinstance(target, list):
        target[int(last)] = value
    else:
        target[last] = value
    return document


def test_a_whole_survey() -> None:
    survey = read_survey(BASE)
    assert survey.wall.length_ticks == 24 * 12 * 64
    assert survey.framing.center_ticks[:2] == (8 * 64, 24 * 64)
    assert len(survey.framing.center_ticks) == 18
    assert survey.framing.joist_depth_ticks == 592  # 9-1/4 in
    assert survey.soil == Soil(uscs="CL")
    assert survey.rules == Rules()
    assert survey.surcharge_psf is None
    assert survey.slab.thickness_ticks is None
    assert survey.rounded == ()


def test_nineteen_point_two_never_drifts() -> None:
    """19.2 in is 96/5 in: five bays are 96 in (values.md section 10)."""
    centers = {"first": "0 in", "spacing": "19.2 in"}
    got = read_survey(changed("/framing/centers", centers)).framing.center_ticks
    assert got[5] == 96 * 64
    assert got[15] == 288 * 64
    assert all(abs(tick * 5 - index * 96 * 64) <= 2 for index, tick in enumerate(got))


def test_odd_first_bay_and_metric_spacing() -> None:
    centers = {"first": "11 3/8 in", "spacing": "400 mm"}
    survey = read_survey(changed("/framing/centers", centers))
    assert survey.framing.center_ticks[0] == 728
    assert survey.framing.center_ticks[1] == round(728 + 400 / 25.4 * 64)
    assert survey.rounded == ("/framing/centers/spacing",)


def test_parallel_joists_are_listed_from_the_wall_inwards() -> None:
    document = changed("/framing/joists", "parallel")
    assert max(read_survey(document).framing.center_ticks) <= 12 * 12 * 64
    document["framing"]["centers"] = None
    assert read_survey(document).framing.center_ticks == ()


def test_dressed_sizes() -> None:
    """PS 20, dry: 2x 1-1/2, 4x 3-1/2; 6 5-1/2, 8 7-1/4, 10 9-1/4, 12 11-1/4."""
    assert dressed_size_in("2x6") == (1.5, 5.5)
    assert dressed_size_in("2x8") == (1.5, 7.25)
    assert dressed_size_in("3x10") == (2.5, 9.25)
    assert dressed_size_in("4x12") == (3.5, 11.25)


def test_measured_old_joists_win_over_the_nominal_size() -> None:
    document = changed("/framing/thickness", "1 5/8 in")
    framing = read_survey(document).framing
    assert (framing.joist_thickness_ticks, framing.joist_depth_ticks) == (104, 592)


def test_unknowns_stay_unknown() -> None:
    document = copy.deepcopy(BASE)
    document["soil"] = None
    document["wall"] |= {"kind": None, "thickness": None, "fill_height": None}
    document["framing"] |= {"size": None, "species": None}
    survey = read_survey(document)
    assert not survey.soil.is_known
    assert survey.wall.kind is None
    assert survey.framing.joist_depth_ticks is None


def test_stone_and_i_joists_are_no_input_errors() -> None:
    assert read_survey(changed("/wall/kind", "stone")).wall.kind == "stone"
    document = changed("/framing/kind", "i_joist")
    document["framing"] |= {"size": "11 7/8 series 20", "species": None}
    assert read_survey(document).framing.kind == "i_joist"


def test_other_spellings() -> None:
    assert read_survey(changed("/soil/class", "cl-ml")).soil.uscs == "ML-CL"
    assert read_survey(changed("/framing/size", "2 X 10")).framing.size == "2x10"
    assert read_survey(changed("/framing/species", "Hem-Fir")).framing.species == "HF"


REFUSALS: list[tuple[str, object, str, str]] = [
    ("/schema", "wall-survey/2", "wrong_schema", "/schema"),
    ("/wall", None, "missing", "/wall"),
    ("/wall", [], "not_an_object", "/wall"),
    ("/wall/length", UNSET, "missing", "/wall/length"),
    ("/wall/length", 24, "quantity_without_unit", "/wall/length"),
    ("/wall/length", "24", "length_not_readable", "/wall/length"),
    ("/wall/length", "0 in", "length_too_small", "/wall/length"),
    ("/wall/length", "-24 ft", "length_too_small", "/wall/length"),
    ("/wall/length", "2000 ft", "length_too_large", "/wall/length"),
    ("/wall/length", {"value": float("nan"), "unit": "ft"}, "number_out_of_range",
     "/wall/length/value"),
    ("/wall/kind", "straw", "unknown_wall_kind", "/wall/kind"),
    ("/wall/damage", None, "unknown_choice", "/wall/damage"),
    ("/wall/height", "8 ft", "unknown_member", "/wall/height"),
    ("/wall/a~b/c", "8 ft", "unknown_member", "/wall/a~0b"),
    ("/wall/fill_height", "7'-10 1/2\"", "fill_above_wall", "/wall/fill_height"),
    ("/color", "blue", "unknown_member", "/color"),
    ("/name", 7, "not_text", "/name"),
    ("/name", "x" * 200, "text_not_usable", "/name"),
    ("/name", "a\x00b", "text_not_usable", "/name"),
    ("/soil/class", "mud", "unknown_soil_class", "/soil/class"),
    ("/soil", "CL", "not_an_object", "/soil"),
    ("/soil/equivalent_fluid_weight", "60 psf/ft", "soil_given_twice", "/soil"),
    ("/soil", {"equivalent_fluid_weight": 60}, "quantity_without_unit",
     "/soil/equivalent_fluid_weight"),
    ("/soil", {"equivalent_fluid_weight": "0 psf/ft"}, "quantity_out_of_range",
     "/soil/equivalent_fluid_weight"),
    ("/surcharge", "-5 psf", "quantity_out_of_range", "/surcharge"),
    ("/water_depth", "-1 in", "length_too_small", "/water_depth"),
    ("/drained", "yes", "not_a_flag", "/drained"),
    ("/slab", {"thickness": "0 in"}, "length_too_small", "/slab/thickness"),
    ("/framing/joists", "diagonal", "unknown_choice", "/framing/joists"),
    ("/framing/size", "2x9", "unknown_joist_size", "/framing/size"),
    ("/framing/species", "balsa", "unknown_species", "/framing/species"),
    ("/framing/centers", None, "joists_missing", "/framing/centers"),
    ("/framing/centers", [], "joists_missing", "/framing/centers"),
    ("/framing/centers", "16 in", "not_a_list", "/framing/centers"),
    ("/framing/centers", ["8 in", "25 ft"], "joist_outside_wall", "/framing/centers/1"),
    ("/framing/centers", ["-8 in"], "length_too_small", "/framing/centers/0"),
    ("/framing/centers", ["24 in", "8 in"], "joists_not_in_order", "/framing/centers/1"),
    ("/framing/centers", ["8 in", "8 in"], "joists_not_in_order", "/framing/centers/1"),
    ("/framing/centers", ["8 in"] * 501, "list_too_long", "/framing/centers"),
    ("/framing/centers", {"first": "30 ft", "spacing": "16 in"}, "joist_outside_wall",
     "/framing/centers/first"),
    ("/framing/centers", {"first": "8 in", "spacing": "0 in"}, "length_too_small",
     "/framing/centers/spacing"),
    ("/framing/centers", {"first": "8 in"}, "missing", "/framing/centers/spacing"),
    ("/heights", [], "too_few_heights", "/heights"),
    ("/heights/1", {"at": "20 ft", "slab_to_subfloor": "7'-10\""}, "height_gap", "/heights"),
    ("/heights/0", {"at": "4 ft", "slab_to_subfloor": "7'-10\""}, "height_gap", "/heights"),
    ("/heights/1", {"at": "25 ft", "slab_to_subfloor": "7'-10\""}, "length_too_large",
     "/heights/1/at"),
    ("/heights/1/at", "0 in", "duplicate_station", "/heights/1/at"),
    ("/heights/1/slab_to_subfloor", "0 in", "length_too_small", "/heights/1/slab_to_subfloor"),
    ("/features", [OPENING, OPENING | {"from": "10 ft", "to": "12 ft"}], "openings_overlap",
     "/features/1"),
    ("/features", [OPENING | {"to": "9 ft"}], "extent_reversed", "/features/0/to"),
    ("/features", [OPENING | {"to": "25 ft"}], "length_too_large", "/features/0/to"),
    ("/features", [OPENING | {"label": ""}], "not_text", "/features/0/label"),
    ("/features", [OPENING | {"bottom": "5 ft", "top": "4 ft"}], "extent_reversed",
     "/features/0/top"),
    ("/features", [OPENING | {"kind": "door"}], "unknown_choice", "/features/0/kind"),
    ("/features", [OPENING | {"kind": "line"}], "stand_off_missing", "/features/0/stand_off"),
    ("/features", [OPENING] * 501, "list_too_long", "/features"),
    ("/distress", {"cracks": [{"kind": "odd"}]}, "unknown_choice", "/distress/cracks/0/kind"),
    ("/distress", {"readings": [{"at": "4 ft", "height": "9 ft", "inward": "0 in"}]},
     "length_too_large", "/distress/readings/0/height"),
    ("/distress", {"settling": 1}, "not_a_flag", "/distress/settling"),
    ("/rules", {"corner_min": "43 in"}, "rules_contradict", "/rules/corner_min"),
    ("/rules", {"spacing_min": "0 in"}, "length_too_small", "/rules/spacing_min"),
    ("/rules", {"gap": "1 in"}, "unknown_member", "/rules/gap"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "code", "pointer"), REFUSALS)
def test_refusals(path: str, value: object, code: str, pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        read_survey(changed(path, value))
    assert (caught.value.code, caught.value.pointer) == (code, pointer)
    assert caught.value.reason.endswith(".")
    assert caught.value.remedy.endswith(".")


@pytest.mark.parametrize("document", [None, [], "wall", 5, {}, {"schema": "wall-survey/1"}])
def test_what_is_no_survey_at_all(document: object) -> None:
    with pytest.raises(InputError):
        read_survey(document)


def test_parallel_framing_needs_a_joist_depth() -> None:
    document = changed("/framing/joists", "parallel")
    document["framing"]["size"] = None
    with pytest.raises(InputError) as caught:
        read_survey(document)
    assert caught.value.code == "joist_depth_unknown"
    document["framing"]["depth"] = "9 7/8 in"
    assert read_survey(document).framing.joist_depth_ticks == 632


def test_openings_above_one_another_are_fine() -> None:
    above = OPENING | {"bottom": "5 ft", "top": "6 ft"}
    below = OPENING | {"label": "vent", "bottom": "0 in", "top": "2 ft"}
    assert len(read_survey(changed("/features", [above, below])).features) == 2


@pytest.mark.parametrize("path", SURVEYS, ids=lambda path: path.stem)
@pytest.mark.parametrize("system", ["us", "si"])
def test_written_surveys_read_back(path: Path, system: units.System) -> None:
    survey = read_survey(json.loads(path.read_text("utf-8")))
    again = read_survey(json.loads(json.dumps(write_survey(survey, system))))
    for written, read in (
        (survey.soil.equivalent_fluid_psf_per_ft, again.soil.equivalent_fluid_psf_per_ft),
        (survey.surcharge_psf, again.surcharge_psf),
    ):
        assert read == (None if written is None else pytest.approx(written, rel=1e-9))
    same = {"soil": survey.soil, "surcharge_psf": survey.surcharge_psf, "rounded": ()}
    assert replace(again, **same) == replace(survey, rounded=())  # type: ignore[arg-type]


def test_fixture_surveys_are_there() -> None:
    assert len(SURVEYS) >= 10


def test_a_metric_survey_says_what_was_rounded() -> None:
    path = next(path for path in SURVEYS if path.stem == "metric")
    assert "/wall/length" in read_survey(json.loads(path.read_text("utf-8"))).rounded
