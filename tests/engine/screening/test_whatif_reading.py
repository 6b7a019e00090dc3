"""What-if requests: what is read, what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from contractor.engine.errors import InputError
from contractor.engine.screening.whatif import what_if, what_if_document
from contractor.engine.screening.whatif_reading import read_what_if

SURVEY = Path(__file__).parents[3] / "fixtures" / "surveys" / "perpendicular-16.json"


def request(*variants: Any, **changes: Any) -> dict[str, Any]:
    survey = json.loads(SURVEY.read_text())
    document = {"schema": "what-if-request/1", "survey": survey, "variants": list(variants)}
    return {**document, **changes}


def test_variants_side_by_side() -> None:
    survey, variants = read_what_if(
        request(
            {"name": "as is"},
            {"name": "lighter beam", "shape": "S4x7.7"},
            {"name": "clay", "soil": {"class": "CL"}},
            {"name": "closer", "spacing_max": "4 ft"},
            {"name": "one foot more fill", "fill_height": "6 ft"},
        )
    )
    rows = what_if_document(what_if(survey, variants))["rows"]
    assert [row["name"] for row in rows] == [variant.name for variant in variants]
    as_is, lighter, clay, closer, fuller = rows
    assert closer["braces"] > as_is["braces"]
    assert lighter["utilization"] >= as_is["utilization"]
    assert clay["utilization"] > as_is["utilization"]
    assert fuller["utilization"] > as_is["utilization"]


@pytest.mark.parametrize(
    ("document", "pointer"),
    [
        (request(schema="what-if/9"), "/schema"),
        (request(), "/variants"),
        (request({"name": "x"}, survey={}), "/survey"),
        (request({"shape": "W44x999"}), "/variants/0/shape"),
        (request({"soil": {"class": "XX"}}), "/variants/0/soil/class"),
        (request({"colour": "red"}), "/variants/0/colour"),
        (request({"fill_height": 6}), "/variants/0/wall/fill_height"),
        (request("as is"), "/variants/0"),
        (request({"name": 7}), "/variants/0/name"),
    ],
)
def test_wrong_requests_name_the_place(document: Any, pointer: str) -> None:
    with pytest.raises(InputError) as refusal:
        read_what_if(document)
    assert refusal.value.pointer.startswith(pointer)
    assert refusal.value.remedy
