"""Walls of an invented house for the material tests, as documents."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from contractor.engine.layout import lay_out
from contractor.engine.layout.document import layout_document
from contractor.engine.survey_reader import read_survey

FIXTURES = Path(__file__).parents[3] / "fixtures"
Document = dict[str, Any]


def parts() -> Document:
    loaded: Document = json.loads((FIXTURES / "parts.json").read_text())
    return loaded


def rates() -> Document:
    loaded: Document = json.loads((FIXTURES / "rates.json").read_text())
    return loaded


def survey(name: str = "north wall", **changes: Any) -> Document:
    return {
        "schema": "wall-survey/1",
        "name": name,
        "wall": {
            "length": "24 ft",
            "kind": "poured_concrete",
            "thickness": "8 in",
            "fill_height": "6 ft",
        },
        "soil": {"class": "SM"},
        "slab": {"thickness": "4 in", "edge_gap": "0 in"},
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
    } | changes


def parallel(centers: Any = None, **framing: Any) -> Document:
    return {
        "joists": "parallel",
        "kind": "sawn",
        "size": "2x10",
        "species": "SPF",
        "centers": centers or {"first": "14 1/2 in", "spacing": "16 in"},
    } | framing


def line(bottom: str | None = "60 in", top: str | None = "62 in", **changes: Any) -> Document:
    return {
        "kind": "line",
        "label": "water pipe",
        "from": "0 in",
        "to": "24 ft",
        "bottom": bottom,
        "top": top,
        "stand_off": "2 in",
        "removable": False,
    } | changes


def request(*surveys: Document, **changes: Any) -> Document:
    walls = []
    for document in surveys or (survey(),):
        read = read_survey(document)
        walls.append({"survey": document, "layout": layout_document(lay_out(read), read)})
    travel = {"distance": {"value": 18, "unit": "mi"}, "drive": {"value": 32, "unit": "min"}}
    return {
        "schema": "bill-request/1",
        "name": "14 Sample Lane",
        "walls": walls,
        "travel": travel,
        "parts": parts(),
        "rates": rates(),
    } | changes
