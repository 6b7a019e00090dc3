"""Figures of the engine: a whole house through the chain, what-if, statics, a long layout."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from contractor.engine.chain import Shop, assess_house, prices
from contractor.engine.layout.bench import bench_layout
from contractor.engine.materials import read_catalogue, read_rates
from contractor.engine.screening.bench import bench_statics, variants
from contractor.engine.screening.whatif import what_if
from contractor.engine.survey_reader import read_survey

Clock = Callable[[], float]
Row = dict[str, Any]
_FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
_HOUSE_LIMIT_S = 0.150
_WHAT_IF_LIMIT_S = 2.0
_ERROR_LIMIT = 1e-6


def bench_shop() -> Shop:
    """Return the shop of the demonstration catalogue and rates."""
    parts = json.loads((_FIXTURES / "parts.json").read_text())
    rates = json.loads((_FIXTURES / "rates.json").read_text())
    return Shop(read_catalogue(parts), read_rates(rates))


def house() -> list[Row]:
    """Return surveys of four walls that take 30 braces, one of them with joists along it."""
    return [
        _wall("north wall", 43, "16 in"),
        _wall("east wall", 34, None),
        _wall("south wall", 43, "19.2 in"),
        _wall("west wall", 40, "12 in"),
    ]


def _wall(name: str, feet: int, spacing: str | None) -> Row:
    """Return a survey; ``spacing`` None: joists run along the wall."""
    joists = {"joists": "parallel", "centers": {"first": "14 1/2 in", "spacing": "16 in"}}
    if spacing is not None:
        joists = {
            "joists": "perpendicular",
            "centers": {"first": "8 in", "spacing": spacing},
        }
    return {
        "schema": "wall-survey/1",
        "name": name,
        "wall": {
            "length": f"{feet} ft",
            "kind": "poured_concrete",
            "thickness": "8 in",
            "fill_height": "5 ft",
        },
        "soil": {"class": "GW"},
        "slab": {"thickness": "4 in", "edge_gap": "0 in"},
        "framing": {"kind": "sawn", "size": "2x10", "species": "SYP", **joists},
        "heights": [
            {"at": "0 in", "slab_to_subfloor": "7 ft 9 1/2 in"},
            {"at": f"{feet // 2} ft", "slab_to_subfloor": "7 ft 9 7/8 in"},
            {"at": f"{feet} ft", "slab_to_subfloor": "7 ft 10 in"},
        ],
        "features": [
            {
                "kind": "line",
                "label": "water pipe",
                "from": "0 in",
                "to": "12 ft",
                "bottom": "58 in",
                "top": "60 in",
                "stand_off": "1 1/2 in",
                "removable": False,
            }
        ],
    }


def bench_house(clock: Clock, repeats: int = 15) -> Row:
    """Return the least seconds of a house, documents and drawings included.

    The least of several runs: the others measure what else the machine does.
    """
    shop, documents = bench_shop(), house()
    found = assess_house(documents, shop)
    braces = sum(len(wall["layout"]["braces"]) for wall in found["walls"])
    seconds = []
    for _ in range(repeats):
        start = clock()
        assess_house(documents, shop)
        seconds.append(clock() - start)
    return {
        "what": f"house of {len(documents)} walls, {braces} braces, survey to drawing",
        "value": min(seconds),
        "limit": _HOUSE_LIMIT_S,
        "unit": "s",
    }


def bench_what_if(clock: Clock, count: int = 20) -> Row:
    """Return the seconds of ``count`` priced variants of one wall."""
    survey = read_survey(house()[0])
    price = prices(bench_shop())
    start = clock()
    rows = what_if(survey, variants(count), price=price)
    return {
        "what": f"what-if of {len(rows)} variants of one wall, priced",
        "value": clock() - start,
        "limit": _WHAT_IF_LIMIT_S,
        "unit": "s",
    }


def layout_rows(clock: Clock, count: int) -> list[Row]:
    """Return the layout's figures: differences from brute force, and two long walls."""
    found = bench_layout(clock, walls=count)
    walls = found["walls"]
    return [
        {
            "what": f"layouts other than the brute force's, of {walls} random walls",
            "value": walls - found["equal_to_exhaustive"],
            "limit": 0,
            "unit": "",
        },
        {
            "what": "layout of 200 ft, a place every 8 in",
            "value": found["wall_200ft_perpendicular_ms"],
            "limit": 50,
            "unit": "ms",
        },
        {
            "what": "layout of 200 ft, a place every 1/2 in",
            "value": found["wall_200ft_parallel_ms"],
            "limit": 1000,
            "unit": "ms",
        },
    ]


def main(data: Path | None, seconds: float | None, limit: int | None) -> tuple[list[Row], str]:
    """Run every figure; ``limit`` cuts the 10,000 random load cases and the 2,000 walls."""
    clock = time.perf_counter
    rows = [bench_house(clock), bench_what_if(clock), *layout_rows(clock, min(limit or 2000, 2000))]
    for name, error in bench_statics(cases=limit or 10_000).items():
        rows.append(
            {
                "what": f"statics, worst relative error of {name.replace('_', ' ')}",
                "value": error,
                "limit": _ERROR_LIMIT,
                "unit": "",
            }
        )
    return rows, table(rows)


def table(rows: list[Row]) -> str:
    """Return the rows as text, each with its limit and whether it is kept."""
    lines = []
    for row in rows:
        kept = "ok" if row["value"] <= row["limit"] else "ABOVE"
        value = f"{row['value']:.4g} {row['unit']}".strip()
        bound = f"{row['limit']:g} {row['unit']}".strip()
        lines.append(f"{row['what']:<62} {value:>12}  limit {bound:<8} {kept}")
    return "\n".join(lines)
