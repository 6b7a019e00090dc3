"""The independent checker accepts real answers and sees a planted fault of every kind."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from contractor.engine.screened_layout import lay_out_screened
from contractor.engine.screening.check import check_screening
from contractor.engine.screening.document import screening_document
from contractor.engine.survey_reader import read_survey
from tests.engine.screening.walls import document, reading

Answer = dict[str, Any]


def answer_to(raw: Answer, system: Any = "us", **options: Any) -> Answer:
    found = lay_out_screened(read_survey(raw), **options).screening
    assert found is not None
    return screening_document(found, system)


SOUND: list[dict[str, Any]] = [
    {},
    {"wall__kind": "hollow_block", "soil": {"class": "CL"}},
    {"soil": {"equivalent_fluid_weight": {"value": 55, "unit": "psf/ft"}}},
    {"water_depth": "3 ft", "surcharge": {"value": 100, "unit": "psf"}},
    {"framing__joists": "parallel"},
    {"soil": None, "wall__thickness": None, "slab__thickness": None},
    {"framing__kind": "i_joist", "framing__size": None, "wall__kind": "stone"},
    {"distress__readings": [reading("3 1/4 in")], "distress__base_slide": "1 in"},
    {
        "heights": [
            {"at": "0 in", "slab_to_subfloor": "90 1/2 in"},
            {"at": "24 ft", "slab_to_subfloor": "96 in"},
        ]
    },
]


@pytest.mark.parametrize("changes", SOUND)
@pytest.mark.parametrize("system", ["us", "si"])
def test_real_answers_are_sound(changes: dict[str, Any], system: str) -> None:
    raw = document(**changes)
    assert check_screening(raw, answer_to(raw, system)) == []


@pytest.mark.parametrize("shape", ["S3x5.7", "W4x13", "W6x9", "W6x15", "W8x10"])
def test_other_beams_are_sound(shape: str) -> None:
    assert check_screening(document(), answer_to(document(), shape=shape)) == []


def first(answer: Answer, code: str) -> Answer:
    checks: list[Answer] = answer["classes"][0]["checks"]
    return next(check for check in checks if check["code"] == code)


def scale(quantity: Answer, by: float) -> None:
    quantity["value"] *= by


def on(code: str, member: str, by: float) -> Callable[[Answer], None]:
    return lambda answer: scale(first(answer, code)[member], by)


def move(quantity: Answer, inches: float) -> None:
    quantity["value"] += inches


def widen_limit(answer: Answer) -> None:
    scale(answer["spacing_limit"]["value"], 1.5)
    answer["spacing_limit"]["value"]["value"] = round(answer["spacing_limit"]["value"]["value"])


FAULTS: list[tuple[str, dict[str, Any], Callable[[Answer], Any]]] = [
    ("malformed", {}, lambda a: a.pop("classes")),
    ("wrong_schema", {}, lambda a: a.update(schema="screening/2")),
    ("missing_disclaimer", {}, lambda a: a.update(disclaimer="")),
    ("forbidden_word", {}, lambda a: a.update(engineer_note="This wall is safe.")),
    ("wrong_tributary", {}, lambda a: move(a["braces"][1]["tributary_width"], 2)),
    ("wrong_span", {}, lambda a: move(a["braces"][1]["span"], 1)),
    ("wrong_class", {}, lambda a: a["braces"][0].update(mark="B9")),
    ("wrong_soil", {}, lambda a: scale(a["soil"]["equivalent_fluid_weight"], 0.8)),
    ("wrong_load", {}, lambda a: scale(a["classes"][0]["reaction_top"], 0.98)),
    ("wrong_load", {}, lambda a: scale(a["classes"][0]["moment"], 0.98)),
    ("wrong_demand", {}, on("beam_deflection", "demand", 0.9)),
    ("wrong_demand", {}, on("top_bolts", "demand", 0.9)),
    ("wrong_utilization", {}, lambda a: first(a, "beam_shear").update(utilization=0.01)),
    ("wrong_utilization", {}, lambda a: first(a, "beam_shear").update(passes=False)),
    ("wrong_bending", {}, on("beam_bending", "capacity", 1.1)),
    ("wrong_bending", {}, on("beam_shear", "capacity", 1.1)),
    ("wrong_bolts", {}, on("top_bolts", "capacity", 1.1)),
    ("wrong_anchors", {}, on("anchor_pryout", "capacity", 1.1)),
    ("wrong_wall", {}, lambda a: scale(a["bays"][1]["check"]["demand"], 0.9)),
    ("wrong_wall", {}, lambda a: a["bays"].pop()),
    ("missed_stop", {"distress__base_slide": "1 in"}, lambda a: a.update(reasons=[])),
    ("missed_stop", {"soil": None}, lambda a: a.update(reasons=[])),
    ("wrong_outcome", {"soil": None}, lambda a: a.update(outcome="within screening limits")),
    ("wrong_outcome", {}, lambda a: a.update(outcome="engineer review needed")),
    ("wrong_governing", {}, lambda a: a["governing"].update(utilization=0.1)),
    ("wrong_spacing_limit", {}, widen_limit),
]


@pytest.mark.parametrize(("code", "changes", "plant"), FAULTS)
def test_a_planted_fault_is_seen(
    code: str, changes: dict[str, Any], plant: Callable[[Answer], Any]
) -> None:
    raw = document(**changes)
    answer = copy.deepcopy(answer_to(raw))
    assert check_screening(raw, answer) == []
    plant(answer)
    assert code in {violation.code for violation in check_screening(raw, answer)}


def test_every_code_has_a_planted_fault() -> None:
    import contractor.engine.screening.check as module

    listed = (module.__doc__ or "").split("violations:")[1].replace(".", "").split(",")
    assert {code.strip() for code in listed} == {code for code, _, _ in FAULTS}


def test_an_answer_for_another_wall_is_refused() -> None:
    other = document(wall__fill_height="7 ft")
    found = {violation.code for violation in check_screening(other, answer_to(document()))}
    assert "wrong_load" in found
