"""The search for full bars beside the search over bar counts: one clock, shared patterns."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from contractor.engine.cutting.columns import Generator
from contractor.engine.cutting.fullbars import FullBars, Outcome
from contractor.engine.cutting.problem import Pattern

#: It may take so many times the work that all searches together have done until then.
SHARE = 4


class Filling:
    """``limit``: the cost of the plan looked for. Work is counted with the generator's."""

    def __init__(self, generator: Generator, limit: int, random: Random) -> None:
        self.generator = generator
        self.limit = limit
        problem = generator.problem
        contents = (pattern.content for pattern in generator.master.patterns)
        bars = limit // problem.bars[0].cost
        self.full = FullBars(problem, bars, filter(None, contents), random)

    def is_impossible(self, is_stopped: Callable[[int], bool]) -> bool:
        """Say whether not even fractions of bars would do; leave the patterns to the generator.

        Near the widths' shares of a bar, which are optimal prices here, that is found out soon.
        """
        begun = self.generator.work
        reached = self.full.reach(lambda work: is_stopped(begun + work))
        self.generator.work = begun + self.full.work
        self.generator.master.add(Pattern(0, content) for content in self.full.contents())
        return reached is False

    def run(self, is_stopped: Callable[[int], bool]) -> Outcome:
        """Search on for a while; nothing is found where the search is stuck."""
        if self.full.is_stuck:
            return Outcome()
        others = self.generator.work - self.full.work
        most = self.full.work + SHARE * self.generator.work
        found = self.full.run(lambda work: work > most or is_stopped(others + work))
        self.generator.work = others + self.full.work
        return found
