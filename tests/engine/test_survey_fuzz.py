"""Whatever is posted as a survey is laid out or refused with a pointer, never an accident."""

from __future__ import annotations

import copy
import json
import random
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.layout import lay_out
from contractor.engine.layout.check import check_layout
from contractor.engine.layout.document import layout_document
from contractor.engine.survey_reader import read_survey

SURVEYS = [
    json.loads(path.read_text("utf-8"))
    for path in sorted((Path(__file__).parents[2] / "fixtures" / "surveys").glob("*.json"))
]
ODD_VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(["0 in", "-3 in", "9 ft", "12 in", "40 in", "1 mm", "perpendicular", "line"]),
    st.sampled_from([[], {}, [None], {"value": 1e308, "unit": "in"}, {"value": 3, "unit": "ft"}]),
    st.lists(st.sampled_from(["8 in", "24 in", "40 in", "9 ft"]), max_size=4),
)


def nodes(value: Any) -> list[tuple[Any, Any]]:
    """Return (container, key) of every value inside a document."""
    keys = list(value) if isinstance(value, dict) else range(len(value))
    found = []
    for key in keys:
        found.append((value, key))
        if isinstance(value[key], dict | list):
            found += nodes(value[key])
    return found


@settings(max_examples=600, deadline=None, derandomize=True)
@given(st.integers(0, 2**32), st.lists(ODD_VALUES, min_size=1, max_size=3))
def test_changed_surveys(seed: int, values: list[Any]) -> None:
    chance = random.Random(seed)
    document = copy.deepcopy(chance.choice(SURVEYS))
    for value in values:
        container, key = chance.choice(nodes(document))
        container[key] = value
    try:
        survey = read_survey(document)
        answer = layout_document(lay_out(survey), survey)
    except InputError as error:
        assert error.code
        assert error.reason
        assert error.remedy
        assert error.pointer == "" or error.pointer.startswith("/")
    else:
        assert check_layout(document, json.loads(json.dumps(answer, allow_nan=False))) == []


@given(st.recursive(ODD_VALUES, lambda inner: st.dictionaries(st.text(max_size=9), inner)))
def test_what_is_no_survey(document: Any) -> None:
    try:
        read_survey(document)
    except InputError as error:
        assert error.code
