"""Close the gap at once: all patterns of any cheaper plan in one whole-number program.

Where branching on bar counts goes on for long, the patterns whose reduced cost fits into the gap
are often few. Odd sets of pieces shorten the list, CP-SAT searches what is left to the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from random import Random

from contractor.engine.cutting.columns import Generator
from contractor.engine.cutting.enumeration import patterns_within
from contractor.engine.cutting.exact import MOST_COST, LeastPlan, least_plan
from contractor.engine.cutting.exhaust import SPREADS
from contractor.engine.cutting.master import Region
from contractor.engine.cutting.shortlist import Shortlist

#: Patterns that a program may have to choose from: listed, and left when shortened.
MOST_LISTED = 250_000
MOST_LEFT = 40_000
#: Counted work to list a pattern and to lay it out.
WORK_PER_PATTERN = 200
#: It looks for any cheaper plan, or for one within this part of the gap.
SHARES = (1.0, 0.5, 0.25)


def close_gap(
    generator: Generator,
    region: Region,
    gap: tuple[int, int],
    allowance: int,
    is_stopped: Callable[[int], bool],
    random: Random,
) -> LeastPlan | None:
    """Find the cheapest plan of ``region`` in a ``gap`` (bound, cost to beat) or raise the bound.

    None: too many patterns qualify, costs beyond ``MOST_COST``, or it was stopped. ``allowance``
    is counted work for the program; all work is counted with the generator's.
    """
    problem = generator.problem
    if gap[1] > MOST_COST:
        return None

    def is_over(more: int = 0) -> bool:
        return is_stopped(generator.work + more)

    for short in _shortlists(generator, region, gap, is_over, random):
        short.shorten(is_over, random)
        generator.work += short.work
        left = short.left()
        if not left:
            return LeastPlan(None, short.limit + problem.cost_step, 0, True)
        if len(left) <= MOST_LEFT and not is_over():
            chosen = [(short.patterns[at], int(short.most[at])) for at in left]
            seed = random.randrange(1000)
            while allowance and is_over(allowance):
                allowance //= 2
            found = least_plan(problem, chosen, short.limit, allowance, is_over, seed)
            generator.work += found.work
            return found
    return None


def _shortlists(
    generator: Generator,
    region: Region,
    gap: tuple[int, int],
    is_over: Callable[[], bool],
    random: Random,
) -> Iterator[Shortlist]:
    """Yield all patterns of plans within a limit, for falling limits, where they are not too many.

    The duals are in the middle of several optimal ones: there the fewest patterns qualify.
    """
    problem, (bound, cost) = generator.problem, gap
    inner = generator.inner_duals(region, is_over, random, SPREADS[0])
    if inner is None:
        return
    scaled, _, proof = inner
    worth = generator.knapsack.best_worth().tolist()
    steps = (cost - bound) // problem.cost_step - 1
    limits = [bound + int(steps * share) * problem.cost_step for share in SHARES]
    for limit in dict.fromkeys(limits):
        if is_over():
            return
        slack = limit * proof.scale - proof.raw
        least = [max(-1, one - slack) for one in worth]
        patterns = patterns_within(problem, scaled.values, least, MOST_LISTED)
        generator.work += generator.knapsack.cells * 10 + WORK_PER_PATTERN * len(patterns or ())
        if patterns is not None and not is_over():
            yield Shortlist(problem, patterns, limit)
