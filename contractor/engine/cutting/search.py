"""Branch and bound on bar counts: how many bars in all, how many of each type.

Fixing counts leaves pricing the same knapsack, and once all counts are whole the cost is that
of a real purchase: mostly a dive then finds the patterns. Nodes are taken least bound first, so
the least open bound is the bound of the whole search.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from contractor.engine.cutting.columns import Generator, Region, tighten
from contractor.engine.cutting.dive import Dive
from contractor.engine.cutting.problem import Cuts, Pattern, Problem

WHOLE = 1e-5


@dataclass(order=True)
class Node:
    bound: int
    number: int
    region: Region = field(compare=False)


class Search:
    """State of one search: best plan, bound, open nodes."""

    def __init__(
        self,
        problem: Problem,
        cuts: Cuts,
        patterns: list[Pattern],
        is_stopped: Callable[[int], bool],
        report: Callable[[int, int, str], None],
        seed: int,
    ) -> None:
        self.problem = problem
        self.cuts = cuts
        self.cost = problem.cost(cuts)
        self.bound = 0
        self.generator = Generator(problem)
        self.generator.master.add(patterns)
        self._is_stopped = is_stopped
        self.report = report
        self.random = Random(seed)
        self.nodes: list[Node] = []
        self.made = 0
        self.dives = 0
        self.stuck: list[Node] = []

    def is_stopped(self) -> bool:
        return self._is_stopped(self.generator.work)

    def run(self) -> None:
        supply = [bar.supply for bar in self.problem.bars]
        self.everything = Region(tuple((0, have) for have in supply), (0, self.problem.pieces))
        self._visit(self.everything)
        while self.nodes and not self.is_stopped():
            node = self.nodes[0]
            self._note_bound()
            if node.bound >= self.cost:
                break
            heapq.heappop(self.nodes)
            self._branch(node)
        self._note_bound()

    def _note_bound(self) -> None:
        open_bounds = [node.bound for node in self.nodes[:1] + self.stuck]
        self.bound = max(self.bound, min([self.cost, *open_bounds]))
        self.report(self.cost, self.bound, "search")

    def _visit(self, region: Region) -> None:
        """Bound a region and keep it as a node unless it cannot beat the best plan."""
        self.made += 1
        found = self.generator.converge(region, self.cost, self.is_stopped)
        if found.bound is not None and found.bound < self.cost:
            region = tighten(region, found, self.problem, self.cost)
            heapq.heappush(self.nodes, Node(found.bound, self.made, region))

    def _branch(self, node: Node) -> None:
        master = self.generator.master
        master.purge(3 * len(self.problem.widths) + 200)
        found = self.generator.converge(node.region, self.cost, self.is_stopped)
        if found.bound is None or found.bound >= self.cost:
            return
        if not found.is_converged:
            heapq.heappush(self.nodes, node)
            return
        split = self._split(node.region)
        if split is None:
            self._dig(node)
            return
        if self.made == 1:
            self._round_up()
        elif self.made % 64 == 1:
            self._dive(node.region)
        for region in split:
            self._visit(region)

    def _split(self, region: Region) -> tuple[Region, Region] | None:
        counts = self.generator.master.bar_counts()
        total = float(counts.sum())
        low = int(total + WHOLE)
        if abs(total - round(total)) > WHOLE:
            return (
                Region(region.box, (region.total[0], low)),
                Region(region.box, (low + 1, region.total[1])),
            )
        worst, at = WHOLE, -1
        for bar, count in enumerate(counts):
            distance = abs(count - round(count))
            distance *= self.problem.bars[bar].cost if distance > WHOLE else 0
            if distance > worst:
                worst, at = distance, bar
        if at < 0:
            return None
        low = int(counts[at])
        left, right = list(region.box), list(region.box)
        left[at] = (region.box[at][0], low)
        right[at] = (low + 1, region.box[at][1])
        return Region(tuple(left), region.total), Region(tuple(right), region.total)

    def _round_up(self) -> None:
        """Try the bars of a fractional solution, more and more of them rounded up."""
        counts = self.generator.master.bar_counts()
        bars = [int(count + WHOLE) for count in counts]
        order = sorted(range(len(bars)), key=lambda at: bars[at] - counts[at])
        wanted = sum(w * d for w, d in zip(self.problem.widths, self.problem.demands, strict=True))
        tries = 0
        for at in order:
            room = sum(b.capacity * n for b, n in zip(self.problem.bars, bars, strict=True))
            if room >= wanted:
                self._repack(bars, 300)
                tries += 1
            if counts[at] - bars[at] < WHOLE or tries == 4:
                break
            bars[at] += 1

    def _repack(self, bars: list[int], steps: int) -> None:
        """Pack into ``bars`` (bars per type), starting from the whole part of the solution."""
        cost = sum(b.cost * n for b, n in zip(self.problem.bars, bars, strict=True))
        if cost < self.cost + self.problem.bars[-1].cost:
            dive = Dive(self.generator, self.everything, self.cost, self.is_stopped)
            dive.take_whole_parts()
            self._accept(dive.repack(bars, steps, self.random))

    def _dive(self, region: Region, random: Random | None = None) -> None:
        self.dives += 1
        self.generator.master.purge(2 * len(self.problem.widths) + 100)
        bars = [round(count) for count in self.generator.master.bar_counts()]
        dive = Dive(self.generator, region, self.cost, self.is_stopped, random)
        self._accept(dive.run())
        self._accept(dive.repack(bars, 1000, self.random))

    def _accept(self, cuts: Cuts | None) -> None:
        if cuts is not None and self.problem.cost(cuts) < self.cost:
            self.cuts, self.cost = cuts, self.problem.cost(cuts)
            self.report(self.cost, self.bound, "plan")

    def _dig(self, node: Node) -> None:
        """Look for a plan in a node whose bar counts are whole already."""
        for turn in range(8):
            if turn:
                self.generator.converge(node.region, self.cost, self.is_stopped)
            if self.is_stopped():
                break
            self._repack([round(count) for count in self.generator.master.bar_counts()], 500)
            if self.cost > node.bound:
                self._dive(node.region, self.random if turn else None)
            if self.cost <= node.bound:
                return
        self.stuck.append(node)
