"""Sheets of an invented wall for the document tests."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from typing import Any

from contractor.documents import (
    calculation,
    cut_tickets,
    drawing_sheet,
    homeowner_sheet,
    install_sheet,
    pull_sheet,
)
from contractor.documents.sheet import Sheet
from contractor.engine.chain import assess, lay_out_and_screen, review_notes
from contractor.engine.chain_bench import bench_shop
from contractor.engine.drawing import elevation_pages, elevation_svg, framing_plan_svg
from contractor.engine.survey_reader import read_survey
from tests.engine.materials.walls import line, parallel, survey

Document = dict[str, Any]
SITE = "14 Sample Lane, Exampletown"


def north() -> Document:
    return survey(features=[line()])


def south() -> Document:
    """A wall for the engineer: joists along it, soil and slab not known."""
    return survey("south wall", framing=parallel(), soil=None, slab=None)


@lru_cache(maxsize=4)
def found(name: str) -> Document:
    return assess(north() if name == "north wall" else south(), bench_shop())


def calculation_sheet(name: str = "north wall") -> Sheet:
    read = read_survey(north() if name == "north wall" else south())
    laid = lay_out_and_screen(read, bench_shop())
    drawing = elevation_svg(read, laid.layout, canvas="column", is_bare=True)
    answer = found(name)
    return calculation.render(answer["screening"], layout=answer["layout"], drawing=drawing)


def drawings(name: str = "south wall") -> Sheet:
    read = read_survey(north() if name == "north wall" else south())
    laid = lay_out_and_screen(read, bench_shop())
    notes = review_notes(laid)
    plans = [framing_plan_svg(read, laid.layout)] if name == "south wall" else []
    return drawing_sheet.render(name, elevation_pages(read, laid.layout, notes=notes), plans)


def install(name: str = "north wall") -> Sheet:
    answer = found(name)
    return install_sheet.render(
        *(answer["layout"], answer["bill"]),
        name=name,
        site=SITE,
        screening=answer["screening"],
    )


def length(inches: float, text: str) -> Document:
    return {"value": inches, "unit": "in", "text": text}


def kit() -> Document:
    """A kit as the warehouse gives it out."""
    beam = {
        "line": 1,
        "part": "BM-S5X10-A36",
        "description": "Steel beam S5x10 A36",
        "mark": "B1",
        "length": length(93.0, "7'-9\""),
        "quantity": 1,
        "pulled": 0,
        "short": 0,
        "reason": "",
        "weight_each": {"value": 77.5, "unit": "lb", "text": "77.5 lb"},
        "take": [{"bin": "R1-03", "lot": "H2231", "quantity": 1}],
    }
    bolts = beam | {
        "line": 2,
        "part": "HB-58-3",
        "description": "Hex bolt 5/8 x 3 in",
        "mark": "",
        "length": None,
        "quantity": 20,
        "short": 4,
        "weight_each": {"value": 0.33, "unit": "lb", "text": "0.33 lb"},
        "take": [
            {"bin": "S2-11", "lot": None, "quantity": 10},
            {"bin": "S2-12", "lot": None, "quantity": 6},
        ],
    }
    return {
        "kit": 1,
        "reference": "K-104",
        "status": "pulling",
        "lines": [beam, bolts],
        "weight": {"value": 83.0, "unit": "lb", "text": "83 lb"},
        "weight_unknown": [],
    }


def pull() -> Sheet:
    return pull_sheet.render(kit())


def cut_list() -> Document:
    pieces = [
        {"piece": 11, "position": 1, "mark": "B1", "kit": "K-104", "length": length(93, "7'-9\"")},
        {"piece": 12, "position": 2, "mark": "B2", "kit": "K-104", "length": length(93, "7'-9\"")},
    ]
    bar = {
        "bar": 1,
        "number": 1,
        "status": "planned",
        "from": "full bar",
        "heat": "H2231",
        "length": length(240, "20'-0\""),
        "pieces": pieces,
        "left": length(53.5, "4'-5 1/2\""),
        "keep": True,
        "tag": "OC-118",
    }
    return {
        "plan": 7,
        "part": "BM-S5X10-A36",
        "description": "Steel beam S5x10 A36",
        "status": "frozen",
        "revision": 1,
        "kerf": length(0.125, "0'-0 1/8\""),
        "end_trim": length(0.25, "0'-0 1/4\""),
        "bars": [bar],
        "gap": 0.0,
        "is_proven": True,
    }


def labels() -> list[Document]:
    rows = cut_list()["bars"][0]["pieces"]
    return [row | {"bar": 1, "part": "BM-S5X10-A36", "heat": "H2231"} for row in rows]


def tickets() -> Sheet:
    return cut_tickets.render(cut_list(), labels())


def homeowner() -> Sheet:
    return homeowner_sheet.render(
        company="Sample Wall Works",
        phone="555-0134",
        site=SITE,
        torque_text="22 lbf ft",
        marks=("B1", "B2", "B3"),
        installed_on=date(2026, 3, 4),
        due_on=(date(2026, 9, 4), date(2027, 3, 4)),
        page_url="https://example.org/w/8f3k",
    )


ALL = {
    "calculation": calculation_sheet,
    "drawings": drawings,
    "install": install,
    "pull": pull,
    "tickets": tickets,
    "homeowner": homeowner,
}
