"""Bars that must all be full, against every way to cut a few pieces (exhaustive search)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from random import Random

import numpy as np
import pytest

from contractor.engine.cutting.bounds import volume_bound
from contractor.engine.cutting.cover import Cover
from contractor.engine.cutting.fullbars import FullBars
from contractor.engine.cutting.heuristics import best_rule
from contractor.engine.cutting.problem import BarType, Content, Problem
from contractor.engine.cutting.scarce import scarce_sizes
from contractor.engine.cutting.search import Search
from contractor.engine.cutting.together import Thing, forced_things

CAPACITY = 60


def never(work: int) -> bool:
    return False


def full_pieces(seed: int, bars: int, loss: int = 0) -> Problem:
    """Return pieces that fill ``bars`` bars but for ``loss``, whether or not they fit into them."""
    random = Random(seed)
    while True:
        widths = [random.randrange(8, 40) for _ in range(3 * bars - 1)]
        widths.append(bars * CAPACITY - loss - sum(widths))
        if 5 <= widths[-1] <= CAPACITY:
            break
    pieces = Counter(widths)
    order = tuple(sorted(pieces, reverse=True))
    needs = tuple(pieces[width] for width in order)
    return Problem(order, needs, (BarType(CAPACITY, 1, sum(needs)),))


def plans(problem: Problem, needs: tuple[int, ...], bars: int) -> Iterator[tuple[Content, ...]]:
    """Yield every plan for ``needs``: a bar for the longest piece left with any others, and on."""
    wanted = problem.width(tuple(enumerate(needs)))
    loss = bars * problem.capacity - wanted
    if loss < 0:
        return
    if not wanted:
        yield ()
        return
    first = next(at for at, need in enumerate(needs) if need)
    for content in fillings(problem, needs, problem.capacity, first):
        if content and content[0][0] == first:
            if problem.capacity - problem.width(content) > loss:
                continue
            held = dict(content)
            left = tuple(need - held.get(at, 0) for at, need in enumerate(needs))
            for more in plans(problem, left, bars - 1):
                yield (content, *more)


def fillings(problem: Problem, needs: tuple[int, ...], room: int, size: int) -> Iterator[Content]:
    """Yield all that fits into ``room`` of ``size`` and the shorter ones."""
    if size == len(needs):
        yield ()
        return
    width = problem.widths[size]
    for number in range(min(needs[size], room // width) + 1):
        for more in fillings(problem, needs, room - number * width, size + 1):
            yield ((size, number), *more) if number else more


def is_possible(problem: Problem, bars: int) -> bool:
    """Say whether ``bars`` bars do, by trying all there is."""
    return next(plans(problem, problem.demands, bars), None) is not None


#: Five points around, each tied to its neighbour and to an inner one; those make a star.
PETERSEN = [
    *((at, (at + 1) % 5) for at in range(5)),
    *((at, at + 5) for at in range(5)),
    *((at + 5, (at + 2) % 5 + 5) for at in range(5)),
]


def petersen_pieces(seed: int, bars: int) -> Problem:
    """Return pieces for three bars, half a bar of each kind at a time, but not for three whole.

    A piece per edge of the Petersen graph, as long as the weights of both its ends; a bar as
    long as all weights. Six sets of edges meet every point once: half a bar of each holds every
    piece. Three bars would colour the edges with three colours, which cannot be done (Petersen
    1898, "Sur le theoreme de Tait"). ``bars`` bars sawn into three pieces come on top.
    """
    random = Random(seed)
    weights = [random.randrange(500, 6000) for _ in range(10)]
    capacity = sum(weights)
    pieces = Counter(weights[one] + weights[other] for one, other in PETERSEN)
    for _ in range(bars):
        first, second = sorted(random.sample(range(capacity // 4, capacity * 3 // 4), 2))
        pieces.update([first, second - first, capacity - second])
    order = tuple(sorted(pieces, reverse=True))
    needs = tuple(pieces[width] for width in order)
    return Problem(order, needs, (BarType(capacity, 1, sum(needs)),))


def search(problem: Problem, bars: int, seed: int = 1) -> FullBars:
    contents = [pattern.content for pattern in best_rule(problem)[0]]
    return FullBars(problem, bars, contents, Random(seed))


@pytest.mark.parametrize("loss", [0, 3])
def test_a_plan_is_found_exactly_where_there_is_one(loss: int) -> None:
    found = Counter[bool]()
    for seed in range(60):
        problem = full_pieces(seed, 4, loss)
        found[settled(problem, 4)] += 1
    assert min(found[True], found[False]) > 5


@pytest.mark.parametrize("bars", [0, 1, 2])
def test_gaps_that_the_linear_program_does_not_see_are_proven(bars: int) -> None:
    unseen = 0
    for seed in range(12):
        problem = petersen_pieces(seed, bars)
        assert volume_bound(problem) == 3 + bars
        assert search(problem, 3 + bars).reach(never) is True
        unseen += not settled(problem, 3 + bars)
    assert unseen > 8


def settled(problem: Problem, bars: int) -> bool:
    """Return whether there is a plan, having checked that the search says the same."""
    is_there = is_possible(problem, bars)
    outcome = search(problem, bars).run(never)
    assert outcome.is_empty is not is_there
    if is_there:
        assert outcome.cuts is not None
        assert problem.covers(outcome.cuts)
        assert sum(outcome.cuts.values()) <= bars
    return is_there


def repeated_pieces(seed: int, bars: int) -> Problem:
    """Return the pieces of ``bars`` bars sawn in few ways, so that sizes come again and again."""
    random = Random(seed)
    pieces = Counter[int]()
    for _ in range(bars):
        first, second = random.choice((10, 12, 15, 20)), random.choice((12, 18, 20, 24))
        ways = [[first, second, CAPACITY - first - second]] * 4 + [[30, 30], [20, 20, 20]]
        pieces.update(random.choice(ways))
    order = tuple(sorted(pieces, reverse=True))
    needs = tuple(pieces[width] for width in order)
    return Problem(order, needs, (BarType(CAPACITY, 1, sum(needs)),))


@pytest.mark.parametrize("make", [full_pieces, repeated_pieces])
def test_what_is_forced_is_in_every_plan(make: Callable[[int, int], Problem]) -> None:
    forced = sum(len(checked_things(make(seed, 4))) for seed in range(150))
    assert forced > 100


def checked_things(problem: Problem) -> list[Thing]:
    """Return what is forced in four bars, each thing looked up in every plan there is."""
    every = [Counter(plan) for plan in plans(problem, problem.demands, 4)]
    cover = Cover(problem, 4, [pattern.content for pattern in best_rule(problem)[0]])
    cover.is_scarce[:] = True
    cover.add(filter(None, contents_of(problem)))
    cover.refresh()
    if not cover.reach(lambda: False):
        assert not every
        return []
    columns = list(cover.columns)
    forced = forced_things(cover, lambda: False)
    assert forced is not None
    for thing in forced:
        for plan in every:
            if len(thing) == 1:
                assert plan[columns[thing[0]]]
            else:
                held = [{size for size, _ in content} for content in plan]
                assert any(set(thing) <= sizes for sizes in held)
    return forced


def contents_of(problem: Problem) -> list[Content]:
    """Return all that a bar can hold, pieces or none."""
    return list(fillings(problem, problem.demands, problem.capacity, 0))


@pytest.mark.parametrize("seed", range(10))
def test_lists_of_scarce_sizes_are_complete(seed: int) -> None:
    problem = full_pieces(seed, 5)
    random = Random(seed)
    values = np.array([width + random.randrange(3) for width in problem.widths])
    least, most = CAPACITY + 1, 6
    good = [
        content
        for content in contents_of(problem)
        if sum(int(values[size]) * number for size, number in content) >= least
    ]
    lists = scarce_sizes(problem, values, least, most)
    for size in range(len(problem.widths)):
        holding = {content for content in good if size in dict(content)}
        # A list may be given up early by counting one piece more than there is.
        if size in lists:
            assert set(lists[size]) == holding
            assert len(lists[size]) == len(holding) <= most
        else:
            assert len(holding) + problem.demands[size] > most
    assert lists
    assert len(lists) < len(problem.widths)


def test_a_search_stopped_again_and_again_comes_to_the_same_end() -> None:
    for seed in range(40):
        problem = full_pieces(seed, 5)
        whole = search(problem, 5).run(never)
        full = search(problem, 5)
        for most in range(3_000, 6_000_000, 3_000):
            outcome = full.run(most.__lt__)
            if outcome.is_empty or outcome.cuts is not None:
                break
            assert not full.is_stuck
        assert outcome.is_empty == whole.is_empty


def test_a_stopped_search_claims_nothing() -> None:
    full = search(full_pieces(3, 5), 5)
    assert full.reach(lambda work: True) is None
    outcome = full.run(lambda work: True)
    assert outcome.cuts is None
    assert not outcome.is_empty
    assert not full.is_stuck


@pytest.mark.parametrize("seed", range(25))
def test_the_search_over_counts_uses_what_full_bars_prove(seed: int) -> None:
    problem = full_pieces(seed, 4)
    cuts, _ = best_rule(problem)
    bound = volume_bound(problem)
    assert bound == 4
    run = Search(problem, cuts, list(cuts), lambda work: False, lambda *_: None, seed, bound)
    run.run()
    fewest = next(bars for bars in (4, 5, 6) if is_possible(problem, bars))
    assert run.bound == run.cost == fewest


@pytest.mark.parametrize("factor", [0.5, 1.0, 3.0, 5.0, 400.0])
def test_a_proof_rests_on_whole_numbers(factor: float) -> None:
    """Prices that are too high everywhere prove nothing: a bar is worth as much more."""
    problem = repeated_pieces(1, 4)
    cover = Cover(problem, 4, [])
    scaled, best = cover.price(cover.shares * factor)
    worths = [
        sum(int(scaled.values[size]) * number for size, number in content)
        for content in contents_of(problem)
    ]
    assert best == max(worths)
    assert cover.bars * cover.most_worth(scaled.values, best) >= cover.worth_of_needs(scaled.values)
