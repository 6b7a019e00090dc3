"""Surveys for the screening's tests: one ordinary wall, and changes of it."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

from contractor.engine.screened_layout import lay_out_screened
from contractor.engine.screening.answer import Screening
from contractor.engine.survey import Survey
from contractor.engine.survey_reader import read_survey

INCH = 64

ORDINARY: dict[str, Any] = {
    "schema": "wall-survey/1",
    "name": "north wall",
    "wall": {
        "length": "24 ft",
        "kind": "poured_concrete",
        "thickness": "8 in",
        "fill_height": "6 ft",
        "damage": "normal",
    },
    "soil": {"class": "GC"},
    "water_depth": None,
    "surcharge": None,
    "drained": True,
    "slab": {"thickness": "4 in", "edge_gap": "0 in"},
    "framing": {
        "joists": "perpendicular",
        "kind": "sawn",
        "size": "2x10",
        "species": "SPF",
        "centers": {"first": "8 in", "spacing": "16 in"},
    },
    "heights": [
        {"at": "0 in", "slab_to_subfloor": "7 ft 10 in"},
        {"at": "24 ft", "slab_to_subfloor": "7 ft 10 in"},
    ],
    "features": [],
    "distress": {"readings": [], "cracks": [], "base_slide": "0 in", "settling": False},
}


def document(**changes: Any) -> dict[str, Any]:
    """Return the ordinary wall with members changed, such as ``wall__kind="stone"``."""
    made = copy.deepcopy(ORDINARY)
    for path, value in changes.items():
        *parents, last = path.split("__")
        target = made
        for parent in parents:
            target = target[parent]
        target[last] = value
    return made


def survey(**changes: Any) -> Survey:
    return read_survey(document(**changes))


def screened(**changes: Any) -> Screening:
    """Return the screening of the layout of the changed wall."""
    found = lay_out_screened(survey(**changes)).screening
    assert found is not None
    return found


def reading(inward: str, height: str = "44 in", at: str = "12 ft") -> dict[str, str]:
    return {"at": at, "height": height, "inward": inward}


def texts(value: Any) -> Iterator[str]:
    """Yield every text of a document."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for member in value.values():
            yield from texts(member)
    elif isinstance(value, list):
        for member in value:
            yield from texts(member)
