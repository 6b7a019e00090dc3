"""Cuts on bar counts: true for every plan, whatever values they came from, in whole numbers."""

from itertools import product
from random import Random

import numpy as np
import pytest

from contractor.engine.cutting.columns import Generator
from contractor.engine.cutting.counts import CountCuts
from contractor.engine.cutting.knapsack import Knapsack
from contractor.engine.cutting.master import Region
from contractor.engine.cutting.problem import BarType, Problem
from contractor.engine.cutting.scaling import scale_duals

SCALE = 1 << 20


def _problem(random: Random) -> Problem:
    widths = tuple(sorted(random.sample(range(3, 15), 3), reverse=True))
    demands = tuple(random.randint(1, 3) for _ in widths)
    bars = tuple(
        BarType(capacity, random.randint(5, 40), random.randint(2, 4))
        for capacity in sorted(random.sample(range(15, 30), 3))
    )
    return Problem(widths, demands, bars)


def _fits(problem: Problem, counts: tuple[int, ...]) -> bool:
    """Say whether the pieces go into these bars: every piece tried in every bar."""
    rooms = [bar.capacity for bar, n in zip(problem.bars, counts, strict=True) for _ in range(n)]
    pieces = [w for w, d in zip(problem.widths, problem.demands, strict=True) for _ in range(d)]
    return _place(pieces, rooms)


def _place(pieces: list[int], rooms: list[int]) -> bool:
    if not pieces:
        return True
    for at in {room: at for at, room in enumerate(rooms)}.values():
        if rooms[at] >= pieces[0]:
            rooms[at] -= pieces[0]
            found = _place(pieces[1:], rooms)
            rooms[at] += pieces[0]
            if found:
                return True
    return False


def _least_cost(problem: Problem, region: Region) -> int | None:
    """Try every number of bars of every type."""
    costs = []
    for counts in product(*(range(bar.supply + 1) for bar in problem.bars)):
        inside = all(low <= n <= high for n, (low, high) in zip(counts, region.box, strict=True))
        tails = all(low <= sum(counts[t:]) <= high for t, (low, high) in region.tails.items())
        if inside and tails and _fits(problem, counts):
            costs.append(sum(b.cost * n for b, n in zip(problem.bars, counts, strict=True)))
    return min(costs, default=None)


def _regions(problem: Problem, random: Random) -> list[Region]:
    everything = tuple((0, bar.supply) for bar in problem.bars)
    low = random.randint(0, 2)
    narrow = tuple((0, random.randint(1, bar.supply)) for bar in problem.bars)
    return [
        Region(everything, {}),
        Region(everything, {1: (low, low + 1)}),
        Region(narrow, {0: (low + 1, 6), 2: (0, 1)}),
    ]


@pytest.mark.parametrize("seed", range(12))
def test_no_bound_from_cuts_exceeds_the_cost_of_a_real_plan(seed: int) -> None:
    random = Random(seed)
    problem = _problem(random)
    cuts = CountCuts(problem)
    knapsack = Knapsack(problem.widths, problem.demands, [bar.capacity for bar in problem.bars])
    for _ in range(8):
        values = np.array([random.randrange(10 * SCALE) for _ in problem.widths], dtype=np.int64)
        knapsack.run(values, is_small=False)
        cuts.add(values, knapsack.best_worth(), SCALE)
    for region in _regions(problem, random):
        least, found = _least_cost(problem, region), cuts.bound(region)
        assert found is not None
        assert least is None or found.bound <= least


@pytest.mark.parametrize("seed", range(6))
def test_cuts_of_a_linear_solution_give_its_bound_again(seed: int) -> None:
    problem = _problem(Random(seed))
    generator = Generator(problem)
    region = Region(tuple((0, bar.supply) for bar in problem.bars), {0: (0, problem.pieces)})
    priced = generator.converge(region, 10**9, lambda: False)
    quick = generator.counts.bound(region)
    assert priced.bound is not None
    assert quick is not None
    assert quick.bound >= priced.bound


@pytest.mark.parametrize("is_exact", [True, False])
@pytest.mark.parametrize("seed", range(12))
def test_no_bound_from_pricing_exceeds_the_cost_of_a_real_plan(seed: int, is_exact: bool) -> None:
    random = Random(seed)
    problem = _problem(random)
    generator = Generator(problem)
    for region in _regions(problem, random):
        least = _least_cost(problem, region)
        found = generator.converge(region, 10**9, lambda: False, is_exact)
        assert least is None or (found.bound is not None and found.bound <= least)


@pytest.mark.parametrize("seed", range(6))
def test_prices_of_a_bound_prove_it_again_in_one_pricing(seed: int) -> None:
    """The best content of a sum of values is worth no more than the best ones of each together."""
    problem = _problem(Random(seed))
    generator = Generator(problem)
    region = Region(tuple((0, bar.supply) for bar in problem.bars), {0: (0, problem.pieces)})
    generator.converge(region, 10**9, lambda: False)
    quick = generator.counts.bound(region)
    assert quick is not None
    scaled = scale_duals(problem, quick.prices.sizes)
    reduced = generator.price(generator.knapsack, scaled)
    proof = generator.certify(problem.demands, region, quick.prices, scaled, reduced)
    least = quick.proof.raw / quick.proof.scale
    assert proof.raw / proof.scale >= least - 1e-4 * max(1.0, abs(least))


def test_scales_are_powers_of_two_so_that_proofs_add_up_without_loss() -> None:
    for seed in range(20):
        problem = _problem(Random(seed))
        scale = scale_duals(problem, np.array([3.7, 1.9, 0.1])).scale
        assert scale & (scale - 1) == 0


def test_one_bar_type_or_no_cut_says_nothing() -> None:
    problem = Problem((5, 3), (2, 2), (BarType(10, 7, 4),))
    assert Generator(problem).counts.bound(Region(((0, 4),), {})) is None
