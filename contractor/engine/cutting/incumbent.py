"""The best plan so far and the ways to find a better one from a fractional solution."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from random import Random

from contractor.engine.cutting.branching import rounded_up
from contractor.engine.cutting.columns import Generator
from contractor.engine.cutting.dive import Dive
from contractor.engine.cutting.filling import Filling
from contractor.engine.cutting.heuristics import downsize
from contractor.engine.cutting.master import Region
from contractor.engine.cutting.node import Node
from contractor.engine.cutting.patient import PatientDive
from contractor.engine.cutting.problem import Cuts, Pattern, Problem, trim_cover

#: A dive that turns back may do so this many times: the first in a region, the others.
FIRST_SETBACKS = 2
SETBACKS = 50


@dataclass(eq=False, repr=False)
class Incumbent:
    """``cuts`` and their ``cost``; no plan of the problem costs less than ``bound``.

    ``patterns`` are those to start from; ``stops`` says whether so much work is enough; ``report``
    is told (cost, bound, phase).
    """

    problem: Problem
    cuts: Cuts
    patterns: Sequence[Pattern]
    stops: Callable[[int], bool]
    report: Callable[[int, int, str], None]
    seed: int
    bound: int = 0
    filling: Filling | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        self.cost = self.problem.cost(self.cuts)
        self.generator = Generator(self.problem)
        self.generator.master.add(self.patterns)
        self.random = Random(self.seed)
        supply = [bar.supply for bar in self.problem.bars]
        self.everything = Region(tuple((0, have) for have in supply), {0: (0, self.problem.pieces)})

    def is_stopped(self) -> bool:
        return self.stops(self.generator.work)

    def _round_up(self) -> None:
        """Try the bars of a fractional solution, more and more of them rounded up."""
        for bars in rounded_up(self.problem, self.generator.master.bar_counts()):
            self._repack(bars, 3)

    def _whole_counts(self) -> list[int]:
        return [round(count) for count in self.generator.master.bar_counts()]

    def _repack(self, bars: list[int], tries: int) -> None:
        """Pack into ``bars`` (bars per type), each try from another rounding of the solution."""
        cost = sum(b.cost * n for b, n in zip(self.problem.bars, bars, strict=True))
        if cost >= self.cost + self.problem.bars[-1].cost:
            return
        for _ in range(tries):
            dive = Dive(self.generator, self.everything, self.cost, self.is_stopped)
            dive.take_by_chance(self.random)
            cuts = dive.repack(bars, 250, self.random)
            if cuts is not None:
                self._accept(cuts)
                return

    def _dive(self, node: Node, random: Random | None = None) -> None:
        bars = self._whole_counts()
        fork = self.generator.fork()
        dive = Dive(fork, node.region, self.cost, self._stop(fork), random, node.bound)
        self._accept(dive.run())
        self.generator.work = fork.work
        self._accept(dive.repack(bars, 1000, self.random))

    def _dive_patiently(self, node: Node) -> None:
        random = self.random if node.digs else None
        fork = self.generator.fork()
        stop = self._stop(fork)
        dive = PatientDive(fork, node.region, self.cost, stop, random, node.bound)
        self._accept(dive.search(SETBACKS if node.digs else FIRST_SETBACKS))
        self.generator.work = fork.work

    def _fill(self, node: Node) -> None:
        if self.filling is None or node.bound != self.filling.limit or self.cost <= node.bound:
            return
        found = self.filling.run(self.stops)
        self._accept(found.cuts)
        if found.is_empty:
            node.bound += self.problem.cost_step

    def _stop(self, fork: Generator) -> Callable[[], bool]:
        return lambda: self.stops(fork.work)

    def _accept(self, cuts: Cuts | None) -> None:
        if cuts is None:
            return
        cuts = downsize(self.problem, trim_cover(self.problem, cuts))
        if self.problem.cost(cuts) < self.cost and self.problem.covers(cuts):
            self.cuts, self.cost = cuts, self.problem.cost(cuts)
            self.report(self.cost, self.bound, "plan")
