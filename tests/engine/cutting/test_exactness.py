"""The parts that a proof stands on, each against brute force: knapsack, bound, listing, tree."""

from __future__ import annotations

from itertools import product
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.cutting.bounds import dual_bound, volume_bound
from contractor.engine.cutting.enumeration import patterns_within
from contractor.engine.cutting.knapsack import Knapsack
from contractor.engine.cutting.master import Region
from contractor.engine.cutting.problem import BarType, Content, Pattern, Problem
from contractor.engine.cutting.repack import Repack
from contractor.engine.cutting.tree import Tree


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    widths = sorted(draw(st.lists(st.integers(2, 40), min_size=1, max_size=5)), reverse=True)
    demands = tuple(draw(st.integers(1, 4)) for _ in widths)
    capacities = sorted(draw(st.lists(st.integers(40, 80), min_size=1, max_size=3)))
    bars = tuple(BarType(one, draw(st.integers(1, 50)), sum(demands)) for one in capacities)
    return Problem(tuple(widths), demands, bars)


def all_contents(problem: Problem, capacity: int) -> list[Content]:
    """Return every content that fits and keeps within the demands, by counting them all."""
    counts = product(*(range(need + 1) for need in problem.demands))
    contents = [tuple((s, n) for s, n in enumerate(one) if n) for one in counts]
    return [one for one in contents if problem.width(one) <= capacity]


def worth(content: Content, values: list[int]) -> int:
    return sum(values[size] * number for size, number in content)


@settings(max_examples=150, deadline=None)
@given(problems(), st.data(), st.booleans())
def test_the_knapsack_is_exact_for_every_bar_type(
    problem: Problem, data: st.DataObject, is_small: bool
) -> None:
    values = [data.draw(st.integers(0, 1000)) for _ in problem.widths]
    capacities = [bar.capacity for bar in problem.bars]
    knapsack = Knapsack(problem.widths, problem.demands, capacities)
    for _ in range(2):  # the second run must not see what the first one left
        knapsack.run(np.array(values, dtype=np.int64), is_small)
        for bar, best in enumerate(knapsack.best_worth().tolist()):
            contents = all_contents(problem, capacities[bar])
            assert best == max(worth(one, values) for one in contents)
        for part, bar in zip(*np.nonzero(knapsack.worth > 0), strict=True):
            content = knapsack.content(int(part), int(bar))
            assert worth(content, values) == knapsack.worth[part, bar]
            assert content in all_contents(problem, capacities[bar])
        values = values[::-1]


@settings(max_examples=100, deadline=None)
@given(problems(), st.data())
def test_the_listing_is_complete(problem: Problem, data: st.DataObject) -> None:
    values = [data.draw(st.integers(0, 50)) for _ in problem.widths]
    least = [data.draw(st.integers(0, 100)) for _ in problem.bars]
    found = patterns_within(problem, np.array(values, dtype=np.int64), least, 1_000_000)
    expected = {
        Pattern(bar, one)
        for bar, kind in enumerate(problem.bars)
        for one in all_contents(problem, kind.capacity)
        if one and worth(one, values) >= least[bar]
    }
    assert found is not None
    assert len(found) == len(set(found))
    assert set(found) == expected


def test_a_listing_that_grows_too_long_is_given_up() -> None:
    problem = Problem((5, 4, 3, 2), (4, 4, 4, 4), (BarType(40, 1, 16),))
    assert patterns_within(problem, np.zeros(4, dtype=np.int64), [0], 10) is None


def all_patterns(problem: Problem) -> list[Pattern]:
    return [
        Pattern(bar, one)
        for bar, kind in enumerate(problem.bars)
        for one in all_contents(problem, kind.capacity)
        if one
    ]


def least_cost(problem: Problem) -> int:
    """Return the least cost by going through every way to cut, a bar for the first piece left."""
    best: dict[tuple[int, ...], int] = {tuple(0 for _ in problem.demands): 0}
    patterns = all_patterns(problem)

    def cost(left: tuple[int, ...]) -> int:
        if left not in best:
            first = next(size for size, need in enumerate(left) if need)
            answers = []
            for pattern in patterns:
                held = dict(pattern.content)
                if first in held and all(left[size] >= held[size] for size in held):
                    rest = tuple(need - held.get(size, 0) for size, need in enumerate(left))
                    answers.append(problem.bars[pattern.bar].cost + cost(rest))
            best[left] = min(answers)
        return best[left]

    return cost(problem.demands)


def whole_region(problem: Problem) -> Region:
    return Region(tuple((0, bar.supply) for bar in problem.bars), {0: (0, problem.pieces)})


@settings(max_examples=60, deadline=None)
@given(problems())
def test_the_tree_finds_a_plan_at_the_least_cost_and_proves_none_below(problem: Problem) -> None:
    least = least_cost(problem)
    patterns, region = all_patterns(problem), whole_region(problem)
    found = Tree(problem, region, patterns, least).run(lambda work: False)
    assert found.cuts is not None
    assert problem.covers(found.cuts)
    assert problem.cost(found.cuts) == least
    below = Tree(problem, region, patterns, least - problem.cost_step).run(lambda work: False)
    assert (below.cuts, below.is_closed) == (None, True)


@settings(max_examples=100, deadline=None)
@given(problems(), st.data())
def test_any_whole_duals_give_a_true_bound(problem: Problem, data: st.DataObject) -> None:
    """Weak duality, Gilmore and Gomory (1961): no choice of values may exceed the least cost."""
    scale = data.draw(st.sampled_from([1, 7, 100]))
    values = [data.draw(st.integers(0, 60 * scale)) for _ in problem.widths]
    fee = data.draw(st.integers(-50 * scale, 50 * scale))
    reduced = [
        scale * bar.cost - max(worth(one, values) for one in all_contents(problem, bar.capacity))
        for bar in problem.bars
    ]
    region = whole_region(problem)
    proof = dual_bound(
        problem.demands, values, reduced, region.box, {0: (fee, region.tails[0])}, scale
    )
    assert problem.round_up(proof.raw, proof.scale) <= least_cost(problem)


@settings(max_examples=60, deadline=None)
@given(problems())
def test_the_volume_bound_is_true(problem: Problem) -> None:
    assert volume_bound(problem) <= least_cost(problem)


@pytest.mark.parametrize("seed", range(5))
def test_repacking_loses_and_makes_no_piece(seed: int) -> None:
    problem = Problem((7, 5, 4, 3), (4, 4, 4, 6), (BarType(20, 1, 20),))
    pieces = [size for size, need in enumerate(problem.demands) for _ in range(need)]
    bars = -(-sum(problem.widths[size] for size in pieces) // 20) + 1
    cuts = Repack(problem, [0] * bars, [[]] * bars, pieces, Random(seed)).run(2000, lambda: False)
    assert cuts is not None
    assert problem.covers(cuts)
    assert all(problem.width(one.content) <= 20 for one in cuts)
    assert sum(n * count for one, count in cuts.items() for _, n in one.content) == len(pieces)
