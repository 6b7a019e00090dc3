"""Layout and screening together: the screening limits the spacing and reviews the answer."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from contractor.engine.layout.check import check_layout
from contractor.engine.screened_layout import lay_out_by_rule, lay_out_screened
from contractor.engine.screening.spacing import spacing_limit
from contractor.engine.survey_reader import read_survey

SURVEYS = sorted((Path(__file__).parents[2] / "fixtures" / "surveys").glob("*.json"))


def document_of(stem: str) -> dict[str, Any]:
    path = next(path for path in SURVEYS if path.stem == stem)
    return dict(json.loads(path.read_text("utf-8")))


@pytest.mark.parametrize("path", SURVEYS, ids=lambda path: path.stem)
def test_screened_layouts_pass_the_checker(path: Path) -> None:
    document = json.loads(path.read_text("utf-8"))
    survey = read_survey(document)
    answer = json.loads(json.dumps(lay_out_screened(survey).document()))
    assert check_layout(document, answer, screened_ticks=spacing_limit(survey).ticks) == []
    assert any("not engineering design" in caution for caution in answer["cautions"])


def test_heavy_soil_closes_the_spacing() -> None:
    document = document_of("perpendicular-16")
    document["wall"]["fill_height"] = "6 ft 9 in"
    document["soil"] = {"equivalent_fluid_weight": "70 psf/ft"}
    survey = read_survey(document)
    answer = lay_out_screened(survey).document()
    limit = spacing_limit(survey).ticks
    assert limit is not None
    assert limit < survey.rules.spacing_max_ticks
    assert answer["spacing_limit"]["from"] == "screening"
    assert answer["largest_spacing"]["value"] * 64 <= limit
    plain = lay_out_by_rule(survey).document()
    assert plain["spacing_limit"] == {
        "value": {"value": 72.0, "unit": "in", "text": "6'-0\""},
        "from": "rule",
    }
    assert len(plain["braces"]) < len(answer["braces"])
    assert plain["review"] == []


def test_plain_rules_ignore_a_recorded_screening_limit() -> None:
    document = document_of("perpendicular-16") | {"rules": {"screened_spacing_max": "48 in"}}
    survey = read_survey(document)
    assert lay_out_screened(survey).layout.spacing_limit_from == "screening"
    assert lay_out_by_rule(survey).layout.spacing_limit_from == "rule"


def test_stone_goes_to_an_engineer_and_still_gets_a_layout() -> None:
    answer = lay_out_screened(read_survey(document_of("stone-wall"))).document()
    assert answer["braces"]
    assert "stone_wall" in {reason["code"] for reason in answer["review"]}


def test_without_a_layout_nothing_counts_as_screened() -> None:
    screened = lay_out_screened(read_survey(document_of("no-answer")))
    assert screened.layout.no_answer is not None
    assert [reason["code"] for reason in screened.document()["review"]] == ["no_braces"]
