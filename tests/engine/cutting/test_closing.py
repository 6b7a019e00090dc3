"""Closing the gap at once: odd sets, the shortened list, the whole-number program over it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from random import Random

import highspy
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.cutting import search, solve
from contractor.engine.cutting.check import check_plan
from contractor.engine.cutting.closing import close_gap
from contractor.engine.cutting.columns import Generator
from contractor.engine.cutting.document import read_instance
from contractor.engine.cutting.enumeration import patterns_within
from contractor.engine.cutting.exact import least_plan
from contractor.engine.cutting.master import quiet_highs
from contractor.engine.cutting.oddsets import overfilled
from contractor.engine.cutting.problem import BarType, Content, Cuts, Pattern, Problem
from contractor.engine.cutting.shortlist import Shortlist
from tests.engine.cutting.instances import as_json, instance
from tests.engine.cutting.test_exactness import (
    all_patterns,
    least_cost,
    problems,
    whole_region,
)

#: Bar types whose longer ones cost less per length, and pieces of a third of a bar and more: bars
#: hold two or three pieces, so that the linear program leans on halves of bars.
BARS = ((70, 77), (100, 100), (130, 123), (160, 143), (190, 162), (220, 181), (250, 199))


def never(work: int) -> bool:
    return False


def pairs_problem(seed: int, pieces: int = 40) -> Problem:
    random = Random(seed)
    lengths = sorted((random.randint(60, 170) for _ in range(pieces)), reverse=True)
    widths = tuple(dict.fromkeys(lengths))
    bars = tuple(BarType(length, cost, pieces) for length, cost in BARS)
    return Problem(widths, tuple(lengths.count(one) for one in widths), bars)


def least_by_highs(problem: Problem) -> int:
    """Return the least cost by the branch and cut of HiGHS over all patterns there are."""
    patterns = every_pattern(problem)
    highs = quiet_highs()
    for need in problem.demands:
        highs.addRow(float(need), float(need), 0, np.empty(0, dtype=np.int32), np.empty(0))
    for pattern in patterns:
        sizes = np.array([size for size, _ in pattern.content], dtype=np.int32)
        numbers = np.array([float(number) for _, number in pattern.content])
        cost = float(problem.bars[pattern.bar].cost)
        highs.addCol(cost, 0.0, float(problem.pieces), len(sizes), sizes, numbers)
    count = len(patterns)
    kinds = np.array([highspy.HighsVarType.kInteger] * count)
    highs.changeColsIntegrality(count, np.arange(count, dtype=np.int32), kinds)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.run()
    assert highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return round(float(highs.getInfo().objective_function_value))


def every_pattern(problem: Problem) -> list[Pattern]:
    """Return every content in the cheapest bar that holds it, size by size."""

    def contents(size: int, room: int) -> Iterator[Content]:
        if size == len(problem.widths):
            yield ()
            return
        for number in range(min(problem.demands[size], room // problem.widths[size]) + 1):
            mine = ((size, number),) if number else ()
            for rest in contents(size + 1, room - number * problem.widths[size]):
                yield mine + rest

    found = []
    for content in contents(0, problem.capacity):
        fits = [at for at, bar in enumerate(problem.bars) if bar.capacity >= problem.width(content)]
        if content:
            found.append(Pattern(min(fits, key=lambda at: problem.bars[at].cost), content))
    return found


def test_half_bars_around_an_odd_ring_are_cut_off() -> None:
    """Edmonds (1965): the pairs within an odd set are fewer than half of it. On a ring of five
    pieces half of each pair meets every piece once, but holds 5/2 pairs where whole ones are 2.
    """
    ring: list[Content] = [((0, 1), (1, 1)), ((1, 1), (2, 1)), ((2, 1), (3, 1)), ((3, 1), (4, 1))]
    ring += [((0, 1), (4, 1)), ((4, 1),)]
    halves, whole = np.array([0.5] * 5 + [0.0]), np.array([1.0, 0.0, 1.0, 0.0, 0.0, 1.0])
    assert (0, 1, 2, 3, 4) in overfilled(ring, halves, [1] * 5, Random(1))
    assert overfilled(ring, whole, [1] * 5, Random(1)) == []


def plans_within(problem: Problem, limit: int) -> Iterator[Cuts]:
    """Yield every exact plan of at most this cost, a bar for the first piece left at a time."""
    patterns = all_patterns(problem)

    def go(left: tuple[int, ...], spent: int, at: int, cuts: Cuts) -> Iterator[Cuts]:
        if not any(left):
            yield dict(cuts)
            return
        for number in range(at, len(patterns)):
            pattern = patterns[number]
            rest = list(left)
            for size, count in pattern.content:
                rest[size] -= count
            cost = spent + problem.bars[pattern.bar].cost
            if min(rest) >= 0 and cost <= limit:
                cuts[pattern] = cuts.get(pattern, 0) + 1
                yield from go(tuple(rest), cost, number, cuts)
                cuts[pattern] -= 1

    return go(problem.demands, 0, 0, {})


@st.composite
def few_pieces(draw: st.DrawFn) -> Problem:
    widths = sorted(draw(st.sets(st.integers(8, 40), min_size=2, max_size=4)), reverse=True)
    demands = tuple(draw(st.integers(1, 2)) for _ in widths)
    kinds = draw(st.lists(st.integers(40, 80), min_size=1, max_size=2, unique=True))
    bars = tuple(BarType(one, draw(st.integers(1, 50)), sum(demands)) for one in sorted(kinds))
    return Problem(tuple(widths), demands, bars)


@settings(max_examples=60, deadline=None)
@given(few_pieces(), st.data())
def test_no_whole_plan_overfills_an_odd_set(problem: Problem, data: st.DataObject) -> None:
    """Nor does any mean of two plans."""
    plans = list(islice(plans_within(problem, least_cost(problem) + 5), 50))
    one, other = (data.draw(st.sampled_from(plans)) for _ in range(2))
    for plan in (one, other):
        used = [pattern.content for pattern in plan]
        counts = np.array([float(count) for count in plan.values()])
        assert overfilled(used, counts, problem.demands, Random(1)) == []
    both = list(one | other)
    mean = np.array([(one.get(pattern, 0) + other.get(pattern, 0)) / 2 for pattern in both])
    contents = [pattern.content for pattern in both]
    assert overfilled(contents, mean, problem.demands, Random(1)) == []


@settings(max_examples=80, deadline=None)
@given(few_pieces(), st.integers(0, 10))
def test_the_shortlist_keeps_all_that_a_plan_within_the_limit_uses(
    problem: Problem, more: int
) -> None:
    limit = least_cost(problem) + more
    short = Shortlist(problem, all_patterns(problem), limit)
    short.shorten(never, Random(1))
    assert not short.is_empty
    most = dict(zip(short.patterns, short.most.tolist(), strict=True))
    assert {pattern for pattern in most if most[pattern]} == {
        short.patterns[at] for at in short.left()
    }
    for plan in plans_within(problem, limit):
        assert all(most[pattern] >= count for pattern, count in plan.items())


@settings(max_examples=60, deadline=None)
@given(problems())
def test_the_program_finds_the_least_cost_and_proves_none_below(problem: Problem) -> None:
    least, step = least_cost(problem), problem.cost_step
    for limit in (least, least + 3 * step, least - step):
        short = Shortlist(problem, all_patterns(problem), limit)
        short.shorten(never, Random(1))
        left = [(short.patterns[at], int(short.most[at])) for at in short.left()]
        found = least_plan(problem, left, limit, 10**12, lambda: False, 1)
        assert found.bound == least
        assert (found.cuts is None) == (limit < least)
        if found.cuts is not None:
            assert problem.covers(found.cuts)
            assert problem.cost(found.cuts) == least


def test_the_program_keeps_to_the_supply() -> None:
    problem = Problem((30, 20), (2, 2), (BarType(50, 5, 1), BarType(60, 9, 4)))
    patterns = [(pattern, 2) for pattern in all_patterns(problem)]
    found = least_plan(problem, patterns, 100, 10**12, lambda: False, 1)
    assert found.cuts is not None
    assert problem.covers(found.cuts)
    # One bar of 5 and one of 9; two of 5 would do if there were two.
    assert (problem.cost(found.cuts), found.bound) == (14, 14)


@pytest.mark.parametrize("seed", range(4))
def test_pieces_in_pairs_cost_what_a_general_solver_says(seed: int) -> None:
    """HiGHS over all patterns as the reference; odd sets must do a part of the work."""
    problem = pairs_problem(seed)
    least = least_by_highs(problem)
    generator, region = Generator(problem), whole_region(problem)
    gap = (0, least + 20)
    found = close_gap(generator, region, gap, 10**12, never, Random(seed))
    assert found is not None
    assert found.cuts is not None
    assert problem.covers(found.cuts)
    assert (problem.cost(found.cuts), found.bound) == (least, least)


@pytest.mark.parametrize("widths", [(40,), (40, 39, 38)])
def test_odd_sets_end_what_half_bars_would_allow(widths: tuple[int, ...]) -> None:
    """Three pieces, two to a bar of 10: a bar and a half for 15, but whole plans cost 17."""
    demands = (3,) if len(widths) == 1 else (1, 1, 1)
    problem = Problem(widths, demands, (BarType(40, 7, 3), BarType(80, 10, 3)))
    assert least_cost(problem) == 17
    for limit, is_empty in ((16, True), (17, False)):
        short = Shortlist(problem, all_patterns(problem), limit)
        short.shorten(never, Random(1))
        assert short.is_empty == is_empty


def test_prices_beyond_all_bars_make_no_false_proof() -> None:
    """Costs and limits near what 64 bits hold: weaker at worst, never wrong, and no error."""
    problem = Problem((27_120,), (1,), (BarType(96_615, 0, 2), BarType(100_000, 10**6, 1)))
    far = Shortlist(problem, [Pattern(0, ((0, 1),))], 10**9)
    far.shorten(never, Random(1))
    assert far.left() == [0]
    dear = Problem((3, 2), (900, 901), (BarType(1800, 10**15, 1), BarType(3000, 10**15 + 7, 2)))
    patterns = [Pattern(0, ((0, 600),)), Pattern(1, ((0, 300), (1, 901))), Pattern(1, ((0, 900),))]
    short = Shortlist(dear, patterns, 3 * 10**15)
    short.shorten(never, Random(1))
    assert not short.is_empty
    # 600 + 300 and 901 of the two sizes: the only plan of these patterns.
    assert short.left()[:2] == [0, 1]


def test_a_listing_ends_before_it_fills_the_memory() -> None:
    """Hundreds of numbers of each size: the first one alone would go beyond the limit."""
    problem = Problem((5, 4, 3), (2000, 2000, 2000), (BarType(10_000, 1, 6000),))
    assert patterns_within(problem, np.zeros(3, dtype=np.int64), [0], 1_999) is None


def test_it_gives_up_when_told_to_stop() -> None:
    problem = pairs_problem(1)
    generator, region = Generator(problem), whole_region(problem)
    assert close_gap(generator, region, (0, 10**6), 10**12, lambda work: True, Random(1)) is None
    patterns = [(pattern, 1) for pattern in every_pattern(problem)]
    found = least_plan(problem, patterns, 10**6, 10**12, lambda: True, 1)
    assert found.bound <= least_by_highs(problem)


def test_a_search_that_closes_at_once_ends_like_one_that_branches(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    random = Random(5)
    lengths = [(random.randint(60, 170), random.randint(1, 2)) for _ in range(40)]
    document = instance([(length, cost, None) for length, cost in BARS], lengths)
    branched = solve(read_instance(document), seconds=60)
    calls: list[tuple[int, int]] = []

    def counted(
        generator: Generator, region: object, gap: tuple[int, int], *rest: object
    ) -> object:
        calls.append(gap)
        return close_gap(generator, region, gap, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(search, "close_gap", counted)
    monkeypatch.setattr(search, "CLOSING_WORK", 0)
    plans = [solve(read_instance(document), seconds=60) for _ in range(2)]
    assert calls
    assert all(plan.is_proven for plan in (branched, *plans))
    assert {plan.cost for plan in plans} == {branched.cost}
    assert plans[0].bars == plans[1].bars
    assert check_plan(document, as_json(plans[0])) == []
