"""The ``screening/1`` document: complete, repeatable, readable, in both systems of units."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from contractor.engine.screening.checks import Number, Step, plain
from contractor.engine.screening.document import input_hash, screening_document
from contractor.engine.screening.hardware import Assumptions
from contractor.engine.screening.screen import screen
from contractor.engine.screening.version import ENGINE_VERSION
from tests.engine.screening.walls import INCH, screened, survey, texts

BASES = {"read", "derived", "from memory, confirm", "common practice", "measured", "assumed"}


def lines(document: dict[str, Any]) -> list[dict[str, Any]]:
    found = [line for group in document["classes"] for line in group["lines"]]
    checks = [check for group in document["classes"] for check in group["checks"]]
    checks += [bay["check"] for bay in document["bays"]]
    return found + [line for check in checks for line in check["lines"]]


def test_the_same_screening_gives_the_same_bytes() -> None:
    first, second = (json.dumps(screening_document(screened())) for _ in range(2))
    assert first == second
    assert "NaN" not in first and "Infinity" not in first


def test_it_names_its_inputs_by_hash_and_its_engine() -> None:
    sheet = screening_document(screened())
    assert sheet["schema"] == "screening/1"
    assert sheet["engine_version"] == ENGINE_VERSION
    assert re.fullmatch(r"[0-9a-f]{64}", sheet["input_hash"])


def test_any_input_changes_the_hash() -> None:
    at = [36 * INCH, 96 * INCH]
    hashes = {
        input_hash(screen(survey(), at)),
        input_hash(screen(survey(), [36 * INCH, 97 * INCH])),
        input_hash(screen(survey(), at, shape="S4x7.7")),
        input_hash(screen(survey(), at, grade="A992")),
        input_hash(screen(survey(), at, assumptions=Assumptions(slab_fc_psi=3000))),
        input_hash(screen(survey(wall__fill_height="70 in"), at)),
    }
    assert len(hashes) == 6


def test_every_line_goes_from_formula_to_clause() -> None:
    for line in lines(screening_document(screened())):
        assert line["formula"] and line["substituted"] and line["clause"]
        assert line["basis"] in BASES
        assert set(line["result"]) == {"value", "unit", "text"}
        assert "{" not in line["formula"] + line["substituted"]


def evaluate(text: str) -> float:
    """Work out a substituted text: units dropped, the signs of a sheet made those of Python."""
    plain_text = re.sub(
        r" (?:kip in|psf/ft|in3/ft|lbf ft|ksi|psi|psf|kip|lbf|in\d?|ft)\b", "", text
    )
    for sign, python in (("×", "*"), ("−", "-"), ("²", "**2"), ("^", "**"), ("π", "3.14159265")):
        plain_text = plain_text.replace(sign, python)
    plain_text = plain_text.replace("[", "(").replace("]", ")")
    plain_text = re.sub(r"√\(", "sqrt(", plain_text)
    plain_text = re.sub(r"√([\d.]+)", r"sqrt(\1)", plain_text)
    return float(eval(plain_text, {"sqrt": lambda x: x**0.5, "min": min}))


def test_the_printed_numbers_give_the_printed_result() -> None:
    """What a reader with a calculator gets from the line is the result, to its digits."""
    worked = 0
    for line in lines(screening_document(screened())):
        text = line["substituted"]
        if re.search(r"[a-z]{4,}|→|\(edge|, to ", text.replace("kip in", "")):
            continue
        assert evaluate(text) == pytest.approx(line["result"]["value"], rel=4e-3), line
        worked += 1
    assert worked > 100


def test_si_shows_metric_results() -> None:
    us, si = screening_document(screened()), screening_document(screened(), "si")
    assert si["classes"][0]["moment"]["unit"] == "kN m"
    assert si["braces"][0]["at"]["unit"] == "mm"
    assert si["governing"] == us["governing"]
    assert si["input_hash"] == us["input_hash"]


def test_words_of_a_verdict_never_stand_on_a_sheet() -> None:
    for changes in ({}, {"soil": None}, {"wall__kind": "stone"}, {"wall__kind": "hollow_block"}):
        for text in texts(screening_document(screened(**changes))):
            assert not re.search(r"\b(approved|safe)\b", text, re.IGNORECASE), text


def test_assumptions_and_unknowns_come_before_the_checks() -> None:
    keys = list(screening_document(screened()))
    assert keys.index("assumptions") < keys.index("unknowns") < keys.index("classes")
    assert keys.index("outcome") < keys.index("reasons") < keys.index("assumptions")


def test_values_from_memory_say_so() -> None:
    sheet = screening_document(screened())
    bases = {check["code"]: check["basis"] for check in sheet["classes"][0]["checks"]}
    assert bases["beam_bending"] == "from memory, confirm"
    assert bases["anchor_pryout"] == "assumed"  # the slab's concrete is


def test_braces_of_a_class_share_one_calculation() -> None:
    sheet = screening_document(screened())
    marks = [mark for group in sheet["classes"] for mark in group["marks"]]
    assert sorted(marks) == sorted(row["mark"] for row in sheet["braces"])
    assert len(sheet["classes"]) < len(sheet["braces"])


def test_room_for_an_engineers_note() -> None:
    assert screening_document(screened())["engineer_note"] == ""


def test_substitution_wraps_what_has_a_unit_under_a_power() -> None:
    numbers = (Number("f'c", 2500.0, "psi"), Number("h", 2.5, "in"), Number("n", 2.0, ""))
    step = Step("x", "", "{2}² × √{0} × {1}^1.5", numbers, 0.0, "", "")
    assert step.formula == "n² × √f'c × h^1.5"
    assert step.substituted == "2² × √(2500 psi) × (2.5 in)^1.5"


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0"), (1234.56, "1235"), (0.012345, "0.01235"), (90.0, "90")]
)
def test_four_digits(value: float, text: str) -> None:
    assert plain(value) == text
