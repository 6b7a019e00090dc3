"""The layout checker finds every planted fault it has a code for."""

from __future__ import annotations

import copy
import inspect
import json
import re
from collections.abc import Callable
from typing import Any

import pytest

from contractor.engine.layout import check, lay_out
from contractor.engine.layout.check import check_layout
from contractor.engine.layout.document import layout_document
from contractor.engine.survey_reader import read_survey
from contractor.engine.units import write_length
from tests.engine.layout.walls import Document, feature, wall

PIPE = feature("line", "water pipe", "14 ft", "24 ft", stand_off="2 in", removable=False)
STACK = feature("fixture", "soil stack", "7 ft 6 in", "7 ft 11 in", removable=False)
SURVEY = wall("24 ft", features=[PIPE, STACK])


def answer_for(survey: Document) -> Document:
    read = read_survey(survey)
    return dict(json.loads(json.dumps(layout_document(lay_out(read), read))))


def no_change(survey: Document, answer: Document) -> None:
    """The correct answer."""


def wrong_schema(survey: Document, answer: Document) -> None:
    answer["schema"] = "brace-layout/2"


def wrong_limit(survey: Document, answer: Document) -> None:
    answer["spacing_limit"]["value"] = write_length(73 * 64)


def wrong_limit_claims_screening(survey: Document, answer: Document) -> None:
    answer["spacing_limit"]["from"] = "screening"


def corner_distance(survey: Document, answer: Document) -> None:
    survey["rules"] = {"corner_max": "13 in", "corner_ideal": "13 in"}


def not_in_order(survey: Document, answer: Document) -> None:
    answer["braces"][1], answer["braces"][2] = answer["braces"][2], answer["braces"][1]


def spacing_too_small(survey: Document, answer: Document) -> None:
    survey["rules"] = {"spacing_min": "70 in"}


def spacing_too_large(survey: Document, answer: Document) -> None:
    del answer["braces"][2]


def wrong_spacings(survey: Document, answer: Document) -> None:
    answer["spacings"].reverse()


def wrong_largest_spacing(survey: Document, answer: Document) -> None:
    answer["largest_spacing"] = write_length(64)


def wrong_mark(survey: Document, answer: Document) -> None:
    answer["braces"][0]["mark"] = "B7"


def no_reason(survey: Document, answer: Document) -> None:
    answer["braces"][0]["because"] = []


def wrong_joist(survey: Document, answer: Document) -> None:
    answer["braces"][0]["joist"] += 1


def wrong_side(survey: Document, answer: Document) -> None:
    brace = answer["braces"][0]
    brace["side"] = "left" if brace["side"] == "right" else "right"


def not_a_place(survey: Document, answer: Document) -> None:
    at = answer["braces"][0]["at"]
    at["value"] += 3


def blocked(survey: Document, answer: Document) -> None:
    at = answer["braces"][1]["at"]["value"]
    survey["features"] = [PIPE, feature("opening", "vent", f"{at - 1} in", f"{at + 4} in")]


def wrong_specials(survey: Document, answer: Document) -> None:
    answer["braces"][-1]["specials"] = []


def wrong_furring(survey: Document, answer: Document) -> None:
    answer["braces"][-1]["furring_layers"] = 1


def wrong_beam_length(survey: Document, answer: Document) -> None:
    answer["braces"][0]["beam_length"]["value"] += 1 / 16


def wrong_beam_length_short(survey: Document, answer: Document) -> None:
    answer["braces"][0]["beam_length"]["value"] -= 1 / 16


def outside_heights(survey: Document, answer: Document) -> None:
    survey["heights"][1]["at"] = "20 ft"


def wrong_basis(survey: Document, answer: Document) -> None:
    answer["braces"][0]["basis"] = "measured"


def wrong_no_answer(survey: Document, answer: Document) -> None:
    answer["no_answer"] = {}
    answer["braces"], answer["spacings"], answer["largest_spacing"] = [], [], None


def braces_missing(survey: Document, answer: Document) -> None:
    answer["braces"], answer["spacings"], answer["largest_spacing"] = [], [], None


def claims_too_much(survey: Document, answer: Document) -> None:
    survey["features"].append(feature("opening", "door", "10 ft", "18 ft"))


def not_fewest_braces(survey: Document, answer: Document) -> None:
    closer = copy.deepcopy(survey)
    closer["rules"] = {"spacing_max": "40 in"}
    other = answer_for(closer)
    answer["braces"] = other["braces"]
    answer["spacings"], answer["largest_spacing"] = other["spacings"], other["largest_spacing"]


def not_fewest_specials(survey: Document, answer: Document) -> None:
    survey["features"] = [PIPE | {"from": "200 in", "to": "203 in"}]
    survey["framing"] = dict(
        survey["framing"], centers=["40 in", "96 in", "152 in", "200 in", "208 in", "256 in"]
    )
    answer.update(answer_for(survey))
    brace = answer["braces"][3]
    brace |= {"specials": ["water pipe"], "furring_layers": 2, "joist": 4, "side": "right"}
    brace["at"] = write_length(202 * 64)


FAULTS: list[Callable[[Document, Document], None]] = [
    wrong_schema,
    wrong_limit,
    wrong_limit_claims_screening,
    corner_distance,
    not_in_order,
    spacing_too_small,
    spacing_too_large,
    wrong_spacings,
    wrong_largest_spacing,
    wrong_mark,
    no_reason,
    wrong_joist,
    wrong_side,
    not_a_place,
    blocked,
    wrong_specials,
    wrong_furring,
    wrong_beam_length,
    wrong_beam_length_short,
    outside_heights,
    wrong_basis,
    wrong_no_answer,
    braces_missing,
    claims_too_much,
    not_fewest_braces,
    not_fewest_specials,
]
CODE_OF = {
    "wrong_limit_claims_screening": "wrong_limit",
    "wrong_side": "wrong_joist",
    "wrong_beam_length_short": "wrong_beam_length",
}


def codes_after(fault: Callable[[Document, Document], None]) -> set[str]:
    survey = copy.deepcopy(SURVEY)
    answer = answer_for(survey)
    fault(survey, answer)
    return {violation.code for violation in check_layout(survey, answer)}


def test_a_right_answer_has_no_violation() -> None:
    assert codes_after(no_change) == set()


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_planted_fault_is_found(fault: Callable[[Document, Document], None]) -> None:
    assert CODE_OF.get(fault.__name__, fault.__name__) in codes_after(fault)


def test_every_code_has_a_planted_fault() -> None:
    known = set(re.findall(r'self\.add\("([a-z_]+)"', inspect.getsource(check)))
    planted = {CODE_OF.get(fault.__name__, fault.__name__) for fault in FAULTS}
    assert known == planted


def test_screening_limit_is_checked() -> None:
    survey = read_survey(SURVEY)
    layout = lay_out(survey, spacing_limit_ticks=48 * 64)
    answer: Any = json.loads(json.dumps(layout_document(layout, survey)))
    assert check_layout(SURVEY, answer, screened_ticks=48 * 64) == []
    found = check_layout(SURVEY, answer, screened_ticks=40 * 64)
    assert "wrong_limit" in {violation.code for violation in found}


def test_parallel_framing_names_no_joist() -> None:
    survey = wall("22 ft", joists="parallel")
    answer = answer_for(survey)
    answer["braces"][0]["joist"] = 1
    answer["braces"][1]["at"]["value"] += 0.25
    codes = {violation.code for violation in check_layout(survey, answer)}
    assert {"wrong_joist", "not_a_place"} <= codes
