"""Figures of the layout: equality with exhaustive search, and time on a long wall."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from contractor.engine.layout.answer import Layout
from contractor.engine.layout.braces import lay_out
from contractor.engine.layout.exhaustive import Rank, best_row
from contractor.engine.survey import Survey
from contractor.engine.survey_reader import read_survey

LONG_WALL_FT = 200
REPEATS = 5


def rank_of(layout: Layout, survey: Survey) -> Rank | None:
    """Return a layout's place in the order of the format, None without an answer."""
    if layout.no_answer is not None:
        return None
    row = tuple(brace.at_ticks for brace in layout.braces)
    if not row:
        return (0, 0, 0, 0, ())
    ideal, length = survey.rules.corner_ideal_ticks, survey.wall.length_ticks
    squares = sum(spacing**2 for spacing in layout.spacings_ticks)
    squares += (row[0] - ideal) ** 2 + (length - row[-1] - ideal) ** 2
    return (len(row), layout.special_count, layout.largest_spacing_ticks or 0, squares, row)


def random_survey(chance: random.Random) -> dict[str, Any]:
    """Return a small random wall as a document: either framing, features, tight rules."""
    parallel = chance.random() < 0.25
    length_in = chance.randrange(20, 84 if parallel else 200)
    low = chance.choice([6, 12, 18])
    high = low + (chance.randrange(3, 9) if parallel else chance.randrange(12, 34))
    rules = {
        "corner_ideal": f"{chance.choice([12, 24, 36])} in",
        "corner_min": f"{low} in",
        "corner_max": f"{high} in",
        "spacing_min": f"{chance.choice([16, 20, 24])} in",
        "spacing_max": f"{chance.choice([26, 28, 30] if parallel else [40, 48, 60, 72])} in",
        "screened_spacing_max": chance.choice([None, None, "40 in"]),
    }
    return {
        "schema": "wall-survey/1",
        "wall": {"length": f"{length_in} in", "damage": chance.choice(["normal"] * 4 + ["bad"])},
        "framing": {
            "joists": "parallel" if parallel else "perpendicular",
            "kind": "sawn",
            "size": "2x8",
            "centers": _random_centers(chance, length_in),
        },
        "heights": [
            {"at": "0 in", "slab_to_subfloor": "90 in"},
            {"at": f"{length_in} in", "slab_to_subfloor": f"{chance.randrange(88, 93)} in"},
        ],
        "features": _random_features(chance, length_in),
        "rules": rules,
    }


def _random_centers(chance: random.Random, length_in: int) -> Any:
    spacing = chance.choice(["12 in", "16 in", "16 in", "19.2 in", "24 in"])
    if chance.random() < 0.7:
        return {"first": f"{chance.randrange(0, 20)} in", "spacing": spacing}
    count = max(1, length_in // 16)
    return [f"{inch} in" for inch in sorted(chance.sample(range(length_in), count))]


def _random_features(chance: random.Random, length_in: int) -> list[dict[str, Any]]:
    features: list[dict[str, Any]] = []
    for number in range(chance.choice([0, 1, 2, 3])):
        begin = chance.randrange(0, length_in - 8)
        end = min(length_in, begin + chance.randrange(1, 30))
        kind = chance.choice(["fixture", "fixture", "line"] + ["opening"] * (number == 0))
        features.append(
            {
                "kind": kind,
                "label": f"{kind} {number + 1}",
                "from": f"{begin} in",
                "to": f"{end} in",
                "stand_off": "2 in",
                "removable": kind != "opening" and chance.random() < 0.6,
            }
        )
    return features


def long_wall(direction: str, length_ft: int = LONG_WALL_FT) -> Survey:
    """Return a long wall with joists every 16 in: a place every 8 in, or every 1/2 in."""
    features = [
        {
            "kind": ("opening", "fixture", "line")[number % 3],
            "label": f"feature {number + 1}",
            "from": f"{10 + 19 * number} ft",
            "to": f"{12 + 19 * number} ft",
            "stand_off": "2 in",
            "removable": number % 3 == 1,
        }
        for number in range(length_ft // 20)
    ]
    return read_survey(
        {
            "schema": "wall-survey/1",
            "wall": {"length": f"{length_ft} ft"},
            "framing": {
                "joists": direction,
                "kind": "sawn",
                "size": "2x10",
                "centers": {"first": "8 in", "spacing": "16 in"},
            },
            "heights": [
                {"at": "0 in", "slab_to_subfloor": "94 in"},
                {"at": f"{length_ft} ft", "slab_to_subfloor": "95 in"},
            ],
            "features": features,
            "rules": {"bracket_offset": "4 in"},
        }
    )


@dataclass(frozen=True)
class Comparison:
    walls: int
    equal: int
    without_answer: int
    parallel: int
    first_difference: dict[str, Any] | None


def compare_with_exhaustive(walls: int, seed: int) -> Comparison:
    """Solve ``walls`` random small walls both ways and count the equal answers."""
    chance = random.Random(seed)
    equal = without = parallel = 0
    difference: dict[str, Any] | None = None
    for _ in range(walls):
        document = random_survey(chance)
        survey = read_survey(document)
        found, wanted = rank_of(lay_out(survey), survey), best_row(survey)
        equal += found == wanted
        without += wanted is None
        parallel += survey.framing.direction == "parallel"
        if found != wanted and difference is None:
            difference = {"survey": document, "found": found, "wanted": wanted}
    return Comparison(walls, equal, without, parallel, difference)


def bench_layout(clock: Callable[[], float], *, walls: int = 2000, seed: int = 1) -> dict[str, Any]:
    """Return counts and best-of-five milliseconds; ``clock`` gives seconds."""
    begun = clock()
    comparison = compare_with_exhaustive(walls, seed)
    return {
        "walls": comparison.walls,
        "equal_to_exhaustive": comparison.equal,
        "walls_without_answer": comparison.without_answer,
        "walls_parallel": comparison.parallel,
        "first_difference": comparison.first_difference,
        "comparison_seconds": round(clock() - begun, 2),
        "wall_200ft_perpendicular_ms": _milliseconds(clock, long_wall("perpendicular")),
        "wall_200ft_parallel_ms": _milliseconds(clock, long_wall("parallel")),
    }


def _milliseconds(clock: Callable[[], float], survey: Survey) -> float:
    """Return the least of a few runs: the other runs measure the machine's other work."""
    times = []
    for _ in range(REPEATS):
        begun = clock()
        lay_out(survey)
        times.append(clock() - begun)
    return round(min(times) * 1000, 2)
