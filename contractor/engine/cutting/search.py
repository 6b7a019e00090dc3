"""Branch and bound on bar counts: how many bars in all, how many of each type.

Fixing counts leaves pricing the same knapsack, and once all counts are whole the cost is that
of a real purchase: mostly a dive then finds the patterns. Nodes are taken least bound first, so
the least open bound is the bound of the whole search. What takes long is tried all at once.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import Any

import numpy as np

from contractor.engine.cutting.branching import split, tighten
from contractor.engine.cutting.closing import close_gap
from contractor.engine.cutting.dive import Dive
from contractor.engine.cutting.exhaust import Effort, exhaust
from contractor.engine.cutting.filling import Filling
from contractor.engine.cutting.heuristics import best_rule
from contractor.engine.cutting.incumbent import Incumbent
from contractor.engine.cutting.master import Floats, Region
from contractor.engine.cutting.node import Node
from contractor.engine.cutting.patient import must_be_full

#: Pricing of fewer sizes costs little more than the program over the cuts, and proves more.
FEW_SIZES = 100
#: Counted work for one search of a rest, the first time.
REST_WORK = 60_000_000
#: Counted work after which all regions are tried at once (each time later by this factor), and
#: the most for one try.
CLOSING_WORK = 200_000_000
LATER = 4
MOST_CLOSING = 500_000_000
#: So many regions are split by the cuts on counts alone before one is priced for new cuts.
QUICK_SPLITS = 100


@dataclass(eq=False, repr=False)
class Search(Incumbent):
    """One search: best plan, bound, open nodes. ``is_inner``: of a rest that others left."""

    is_inner: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        problem = self.problem
        self.has_few_sizes = len(problem.widths) < FEW_SIZES
        # With large demands the linear program decides most bars by the exact patterns.
        self.has_many_alike = problem.pieces >= 3 * len(problem.widths)
        costs = np.array([bar.cost for bar in problem.bars], dtype=np.float64)
        # What one bar more of a type means: its cost over the next shorter one.
        self.steps = np.maximum(np.abs(np.diff(costs, prepend=0.0)), 1.0)
        self.nodes: list[Node] = []
        self.made = 0
        self.is_open = False
        self.quick_splits = 0
        self.closing_due = CLOSING_WORK

    def run(self) -> None:
        """Search until proven or stopped; a second call goes on where the first one stopped."""
        if not self.is_open:
            self.open()
            self._plunge()
            self._note_bound()
        while self.nodes and self.bound < self.cost and not self.is_stopped():
            node = heapq.heappop(self.nodes)
            node.bound = max(node.bound, self.bound)
            self._branch(node)
            self._note_bound()
            if self.generator.work > self.closing_due and self.filling is None:
                self._close_gap()

    def open(self) -> None:
        """Bound the whole problem without branching."""
        self.is_open = True
        if not self.is_inner and must_be_full(self.problem, self.bound):
            self.filling = Filling(self.generator, self.bound, self.random)
            if self.filling.is_impossible(self.stops):
                self.bound += self.problem.cost_step
        if self.bound < self.cost:
            self._price(self.everything)
        if self.nodes and self.nodes[0].is_converged:
            self._solve_rest(self.nodes[0], REST_WORK)
        self._note_bound()

    def _plunge(self) -> None:
        """Follow the better child down to whole counts: a good plan early closes many nodes."""
        last = 0
        while self.bound < self.cost and not self.is_stopped():
            fresh = [node for node in self.nodes if node.age < last]
            if not fresh:
                return
            node = min(fresh)
            last = -self.made
            if node.is_priced and node.split is None:
                if self.cost > node.bound and node.is_converged and self.filling is None:
                    self._dive(node)
                return
            self.nodes.remove(node)
            heapq.heapify(self.nodes)
            self._branch(node)

    def _note_bound(self) -> None:
        self.nodes = [node for node in self.nodes if node.bound < self.cost]
        heapq.heapify(self.nodes)
        least = min((node.bound for node in self.nodes), default=self.cost)
        self.bound = max(self.bound, min(self.cost, least))
        self.report(self.cost, self.bound, "search")

    def _keep(self, bound: int, region: Region, **facts: Any) -> None:
        self.made += 1
        heapq.heappush(self.nodes, Node(bound, -self.made, bound, region, **facts))

    def _visit(self, region: Region) -> None:
        """Bound a region by the counts alone; keep it unless it cannot beat the best plan."""
        quick = self.generator.counts.bound(region)
        if quick is None:
            self._price(region)
        elif quick.bound < self.cost:
            self._keep(quick.bound, region, is_priced=False)

    def _price(self, region: Region) -> None:
        """Bound a region by column generation; keep it unless it cannot beat the best plan."""
        found = self.generator.converge(region, self.cost, self.is_stopped, self.has_many_alike)
        if found.bound is None or found.bound >= self.cost:
            return
        if not found.is_converged:
            self._keep(found.bound, region, is_converged=False)
            return
        if region is self.everything:
            self._round_up()
        inside = tighten(region, found.certificate, self.problem, self.cost)
        halves = self._split(inside, self.generator.master.bar_counts())
        self._keep(found.bound, region, split=halves)
        if halves is None:
            self._repack(self._whole_counts(), max(1, min(5, 2_000 // self.problem.pieces)))

    def _branch(self, node: Node) -> None:
        if not node.is_priced:
            self._branch_on_counts(node)
            return
        if node.split is not None:
            for region in node.split:
                self._visit(region)
            return
        quick = self.generator.counts.bound(node.region)
        if quick is not None and quick.bound >= self.cost:
            return
        found = self.generator.converge(node.region, self.cost, self.is_stopped)
        if found.bound is None or found.bound >= self.cost:
            return
        if node.is_converged:
            self._dig(node)
        else:
            self._price(node.region)

    def _branch_on_counts(self, node: Node) -> None:
        """Split a region by what the cuts on counts say; price it only where they are whole.

        Cuts found since the node was made may raise its bound: then it waits its turn again.
        """
        quick = self.generator.counts.bound(node.region)
        if quick is None:
            self._price(node.region)
        elif node.bound < quick.bound < self.cost:
            self._keep(quick.bound, node.region, is_priced=False)
        elif quick.bound < self.cost:
            inside = tighten(node.region, quick.proof, self.problem, self.cost)
            self.quick_splits += 1
            is_due = self.has_few_sizes or self.quick_splits % QUICK_SPLITS == 0
            halves = None if is_due else self._split(inside, quick.counts)
            if halves is None:
                self._price(node.region)
            for region in halves or ():
                self._visit(region)

    def _split(self, region: Region, counts: Floats) -> tuple[Region, Region] | None:
        return split(region, counts, self.steps, self.problem.pieces)

    def _close_gap(self) -> None:
        """Put all regions into one whole-number program, where few patterns fit into the gap."""
        if self.is_inner or self.bound >= self.cost:
            return
        gap = (self.bound, self.cost)
        allowance = min(2 * self.generator.work, MOST_CLOSING)
        found = close_gap(self.generator, self.everything, gap, allowance, self.stops, self.random)
        is_final = False
        if found is not None:
            self._accept(found.cuts)
            self.bound, is_final = max(self.bound, found.bound), found.is_final
        # A better plan or bound makes the list shorter: that deserves another try at once.
        is_nearer = is_final or self.cost < gap[1]
        self.closing_due = self.generator.work * (1 if is_nearer else LATER)
        self._note_bound()

    def _dig(self, node: Node) -> None:
        """Look for a plan in a node whose bar counts are whole already, or prove it empty."""
        effort = Effort(5_000 * 4 ** min(node.digs, 3), 100 * 4**node.digs)
        if must_be_full(self.problem, node.bound):
            self._dive_patiently(node)
            self._fill(node)
        if self.cost > node.bound and not self.is_stopped():
            self._repack(self._whole_counts(), max(3, min(8, 2_000 // self.problem.pieces)))
        if self.cost > node.bound:
            self._solve_rest(node, allowance=REST_WORK * 2**node.digs)
        if self.cost > node.bound and not self.is_stopped():
            self._dive(node, self.random if node.digs else None)
        # Of many sizes an exhaustive search waits while there are other nodes to try.
        if self.cost > node.bound and (self.has_few_sizes or node.digs or not self.nodes):
            self._settle(node, effort)
        if node.bound < self.cost:
            node.digs += 1
            node.rank = node.bound * (1 + 0.0002 * node.digs)
            heapq.heappush(self.nodes, node)

    def _solve_rest(self, node: Node, allowance: int) -> None:
        """Keep most of the whole part of the node's solution, search the rest as its own problem.

        With large demands nearly all bars are decided by the linear program already.
        """
        if self.is_inner or self.is_stopped():
            return
        dive = Dive(self.generator, node.region, self.cost, self.is_stopped)
        dive.take_whole_parts(self.random if node.digs else None)
        rest = dive.rest()
        if not 0 < rest.problem.pieces < 0.5 * self.problem.pieces:
            return
        cuts, unmet = best_rule(rest.problem)
        if any(unmet):
            return
        begun = self.generator.work
        inner = Search(
            rest.problem,
            cuts,
            list(cuts),
            lambda work: work > allowance or self.stops(begun + work),
            lambda cost, bound, phase: None,
            self.random.randrange(1000),
            max(0, node.bound - dive.spent),
            is_inner=True,
        )
        inner.run()
        self.generator.work += inner.generator.work
        self._accept(rest.whole(inner.cuts))

    def _settle(self, node: Node, effort: Effort) -> None:
        """Raise the node's bound by an exhaustive search, as long as that is easy."""
        step = self.problem.cost_step
        while node.bound < self.cost and not self.is_stopped():
            found = exhaust(
                self.generator, node.region, node.bound, effort, self.stops, self.random
            )
            self._accept(found.cuts)
            if not found.is_empty:
                return
            node.bound += step
