"""A survey that cannot be right is refused with field, reason and remedy, and leaves no row;
one that an engineer has to see becomes a layout that says so."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from jobs.models import BraceLayout, Survey
from tests.conftest import ApiTester

pytestmark = pytest.mark.django_db(transaction=True)
WINDOW = {
    "kind": "opening",
    "label": "window",
    "from": "8 ft",
    "to": "10 ft",
    "bottom": "5 ft",
    "top": "7 ft",
    "stand_off": None,
    "removable": False,
}
HEIGHTS = [
    {"at": "0 in", "slab_to_subfloor": "8 ft"},
    {"at": "6 ft", "slab_to_subfloor": "8 ft"},
]
REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "gap in its heights": ({"heights": HEIGHTS}, "/heights"),
    "joist outside the wall": (
        {"framing": {"centers": ["8 in", "24 in", "900 in"]}},
        "/framing/centers/2",
    ),
    "overlapping openings": (
        {"features": [WINDOW, {**WINDOW, "label": "hatch", "from": "9 ft", "to": "11 ft"}]},
        "/features/1",
    ),
    "fill higher than the wall": ({"wall": {"fill_height": "9 ft 6 in"}}, "/wall/fill_height"),
    "soil that no table knows": ({"soil": {"class": "XX"}}, "/soil/class"),
    "length without a unit": ({"wall": {"length": 24}}, "/wall/length"),
    "misspelt member": ({"framming": {}}, "/framming"),
}


@pytest.mark.parametrize("case", sorted(REFUSED))
def test_wrong_survey_is_refused(
    case: str, survey: Callable[..., dict[str, Any]], post_survey: Callable[..., Any]
) -> None:
    changes, pointer = REFUSED[case]
    answer = post_survey(survey(**changes))
    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    [fault] = answer.json()["errors"]
    assert fault["pointer"].endswith(pointer), fault
    assert fault["detail"]
    assert fault["code"]
    assert fault["remedy"]
    assert Survey.objects.count() == 0


REVIEWED: dict[str, tuple[str, dict[str, Any], str]] = {
    "stone": ("stone-wall", {}, "stone_wall"),
    "soil nobody knows": ("perpendicular-16", {"soil": None}, "soil_unknown"),
    "I-joists": ("perpendicular-16", {"framing": {"kind": "i_joist"}}, "i_joists"),
}


@pytest.mark.parametrize("case", sorted(REVIEWED))
def test_wall_for_an_engineer_says_so(
    case: str,
    survey: Callable[..., dict[str, Any]],
    post_survey: Callable[..., Any],
    owner: ApiTester,
) -> None:
    name, changes, code = REVIEWED[case]
    posted = post_survey(survey(name, **changes))
    assert posted.status_code == 201, posted.json()
    laid_out = owner.post(f"/api/v1/surveys/{posted.json()['id']}/lay-out")
    assert laid_out.status_code == 201, laid_out.json()
    document = laid_out.json()
    assert document["outcome"] == BraceLayout.Outcome.REVIEW
    assert document["screening"]["outcome"] == "engineer review needed"
    codes = {reason["code"] for reason in document["screening"]["reasons"]}
    assert code in codes, codes
    assert "approved" not in str(document).lower()
