"""Figures of the screening: statics against numbers, what-if and a whole house in time.

scipy and a frame program are development dependencies, imported only where they run.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from contractor.engine.screening.document import screening_document
from contractor.engine.screening.loads import TICKS_PER_INCH
from contractor.engine.screening.screen import screen
from contractor.engine.screening.spacing import spacing_limit
from contractor.engine.screening.statics import Segment, simply_supported
from contractor.engine.screening.whatif import Variant, what_if
from contractor.engine.survey import Framing, Slab, Soil, Station, Survey, Wall

Clock = Callable[[], float]


@dataclass(frozen=True)
class LoadCase:
    segments: tuple[Segment, ...]
    span_in: float


def random_case(chance: random.Random) -> LoadCase:
    """Return a span with one to four segments that may overlap, in both directions."""
    span = chance.uniform(60, 120)
    segments = []
    for _ in range(chance.randint(1, 4)):
        start = chance.choice([0.0, chance.uniform(0, 0.8 * span)])
        end = start + chance.uniform(0.05, 1.0) * (span - start)
        segments.append(
            Segment(start, min(end, span), chance.uniform(-20, 160), chance.uniform(-20, 160))
        )
    return LoadCase(tuple(segments), span)


def numerical_errors(case: LoadCase) -> dict[str, float]:
    """Return the relative error of each result against quadrature and a fine search (scipy)."""
    from contractor.engine.screening.bench_numeric import reference

    exact = simply_supported(case.segments, case.span_in)
    wanted = reference(case.segments, case.span_in)
    found = {
        "top": exact.top_lbf,
        "bottom": exact.bottom_lbf,
        "moment": exact.moment.value,
        "deflection": exact.ei_deflection.value,
    }
    scale = {"top": exact.shear.value, "bottom": exact.shear.value}
    return {
        name: abs(value - wanted[name]) / abs(scale.get(name, wanted[name]))
        for name, value in found.items()
    }


def bench_statics(cases: int = 10_000, frames: int = 50, seed: int = 1) -> dict[str, float]:
    """Return the largest relative errors over random cases, and over finite-element frames."""
    from contractor.engine.screening.bench_numeric import frame_errors

    chance = random.Random(seed)
    worst = {"top": 0.0, "bottom": 0.0, "moment": 0.0, "deflection": 0.0}
    for _ in range(cases):
        for name, error in numerical_errors(random_case(chance)).items():
            worst[name] = max(worst[name], error)
    worst_frame = {"frame_reaction": 0.0, "frame_moment": 0.0, "frame_deflection": 0.0}
    for _ in range(frames):
        case = random_case(chance)
        for name, error in frame_errors(case.segments, case.span_in).items():
            worst_frame[name] = max(worst_frame[name], error)
    return {**worst, **worst_frame}


def bench_wall(length_ft: int = 36, name: str = "north wall") -> Survey:
    """Return a long ordinary wall: block, clay, uneven floor, joists 16 in apart."""
    length = length_ft * 12 * TICKS_PER_INCH
    centers = tuple(range(8 * TICKS_PER_INCH, length, 16 * TICKS_PER_INCH))
    return Survey(
        name,
        Wall(length, "hollow_block", 8 * TICKS_PER_INCH, 72 * TICKS_PER_INCH),
        Soil("ML"),
        Slab(4 * TICKS_PER_INCH, None),
        Framing("perpendicular", "sawn", "2x10", "SPF", centers),
        (Station(0, 94 * TICKS_PER_INCH), Station(length, 95 * TICKS_PER_INCH + 16)),
    )


def bench_house(clock: Clock, braces: int = 30, walls: int = 4) -> dict[str, float]:
    """Return seconds for limit, screening and document of ``walls`` walls with ``braces``."""
    per_wall = -(-braces // walls)
    survey = bench_wall(4 * per_wall + 4)
    places = [(24 + 48 * number) * TICKS_PER_INCH for number in range(per_wall)]
    start = clock()
    for _ in range(walls):
        limit = spacing_limit(survey)
        found = screen(survey, places, limit=limit)
    middle = clock()
    for _ in range(walls):
        screening_document(found)
    return {"screen_s": middle - start, "document_s": clock() - middle}


def variants(count: int = 20) -> list[Variant]:
    """Return ``count`` variants over beams, soils and spacings."""
    beams = ("S4x7.7", "S5x10", "W6x12", "S6x12.5", "W6x15")
    soils = ("GW", "SM", "ML", "CL")
    made = [
        Variant(f"{beam} in {soil}", shape=beam, soil=Soil(soil))
        for beam in beams
        for soil in soils
    ]
    return made[:count]


def bench_whatif(clock: Clock, count: int = 20) -> dict[str, float]:
    """Return seconds for ``count`` variants of a 36 ft wall."""
    survey = bench_wall(36)
    start = clock()
    rows = what_if(survey, variants(count))
    return {"whatif_s": clock() - start, "variants": float(len(rows))}
