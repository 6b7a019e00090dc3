"""A dive that turns back, on bars that were sawn up on purpose: the least cost is known."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from random import Random

import numpy as np
import pytest

from contractor.engine.cutting.bounds import volume_bound
from contractor.engine.cutting.branching import rounded_up
from contractor.engine.cutting.columns import Generator
from contractor.engine.cutting.heuristics import best_rule
from contractor.engine.cutting.master import Region
from contractor.engine.cutting.patient import PatientDive, must_be_full
from contractor.engine.cutting.problem import BarType, Cuts, Problem

BARS = 25
CAPACITY = 1920


def sawn_up(seed: int) -> Problem:
    """Return the pieces of ``BARS`` bars, each sawn at three places or so without any waste."""
    random = Random(seed)
    pieces = Counter[int]()
    for _ in range(BARS):
        grain = random.choice((1, 2, 4, 8))
        places = sorted({grain * random.randrange(20, CAPACITY // grain) for _ in range(3)})
        ends = [0, *places, CAPACITY]
        pieces.update(end - start for start, end in pairwise(ends))
    widths = sorted(pieces, reverse=True)
    demands = tuple(pieces[width] for width in widths)
    return Problem(tuple(widths), demands, (BarType(CAPACITY, 1, sum(demands)),))


def dive(problem: Problem, floor: int, most_setbacks: int, seed: int) -> Cuts | None:
    generator = Generator(problem)
    generator.master.add(best_rule(problem)[0])
    region = Region(((0, problem.pieces),), {0: (0, problem.pieces)})
    assert generator.converge(region, BARS + 10, lambda: False).bound == BARS
    fork = generator.fork()
    patient = PatientDive(fork, region, BARS + 1, lambda: False, Random(seed), floor)
    return patient.search(most_setbacks)


@pytest.mark.parametrize("seed", range(6))
def test_bars_sawn_up_without_waste_are_put_together_again(seed: int) -> None:
    problem = sawn_up(seed)
    assert volume_bound(problem) == BARS
    assert must_be_full(problem, BARS)
    assert not must_be_full(problem, BARS + 1)
    cuts = dive(problem, BARS, 100, seed)
    assert cuts is not None
    held = Counter[int]()
    for pattern, count in cuts.items():
        assert problem.width(pattern.content) == CAPACITY
        for size, number in pattern.content:
            held[size] += number * count
    assert sum(cuts.values()) == BARS
    assert tuple(held[size] for size in range(len(problem.widths))) == problem.demands


def test_a_floor_that_no_plan_reaches_ends_after_so_many_setbacks() -> None:
    assert dive(sawn_up(1), BARS - 1, 20, 1) is None


def test_rounded_counts_hold_all_material_and_only_grow() -> None:
    bars = (BarType(50, 5, 9), BarType(100, 9, 9), BarType(120, 12, 9))
    problem = Problem((30, 20), (10, 10), bars)
    tries = list(rounded_up(problem, np.array([2.5, 2.7, 1.0])))
    assert tries == [[2, 3, 1], [3, 3, 1]]
