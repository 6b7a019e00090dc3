"""Search a full list of patterns to the end: a plan within a cost limit, or proof of none.

Linear programs over the listed patterns (each piece exactly as often as wanted) lead the way;
branching says of two sizes how many bars hold both. Every node that is closed without a plan is
closed by whole duals in whole-number arithmetic, never by the floats of the linear program.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import highspy
import numpy as np
import numpy.typing as npt

from contractor.engine.cutting.knapsack import Whole
from contractor.engine.cutting.master import Floats, Region, quiet_highs
from contractor.engine.cutting.problem import Cuts, Pattern, Problem

WHOLE = 1e-6
MANY = 1_000_000
#: Pivots x columns for one linear program: some seconds; then the search gives up.
MOST_PIVOTING = 200_000_000
Flags = npt.NDArray[np.bool_]


@dataclass
class _Node:
    """``most[q]`` bars may use pattern q; ``pairs[row]`` bounds the branching rows so far."""

    most: Whole
    pairs: dict[int, tuple[int, int]]


@dataclass(frozen=True)
class TreeResult:
    """``cuts``: a plan within the limit; ``is_closed``: otherwise proven that there is none."""

    cuts: Cuts | None
    is_closed: bool
    nodes: int


class Tree:
    """Depth-first search over ``patterns`` for a plan in ``region`` within cost ``limit``."""

    def __init__(
        self, problem: Problem, region: Region, patterns: Sequence[Pattern], limit: int
    ) -> None:
        self.problem = problem
        self.patterns = list(patterns)
        self.limit = limit
        self.count = len(self.patterns)
        self.costs = np.array([problem.bars[q.bar].cost for q in patterns], dtype=np.int64)
        self.lower: list[int] = list(problem.demands)
        self.upper: list[int] = list(problem.demands)
        self._build(region)
        self.nodes = 0
        self.work = 0
        self.cut_rows: dict[tuple[int, int], int] = {}
        self.cut_masks: dict[int, Flags] = {}
        self.holds = self._holding()

    def run(self, is_stopped: Callable[[int], bool], most_nodes: int = 100_000) -> TreeResult:
        stack = [_Node(self._first_limits(), {})]
        while stack:
            if is_stopped(self.work) or self.nodes >= most_nodes:
                return TreeResult(None, False, self.nodes)
            node = stack.pop()
            self.nodes += 1
            outcome = self._explore(node)
            if outcome is None:
                return TreeResult(None, False, self.nodes)
            if isinstance(outcome, dict):
                return TreeResult(outcome, False, self.nodes)
            stack += outcome
        return TreeResult(None, True, self.nodes)

    def _build(self, region: Region) -> None:
        problem = self.problem
        sizes = len(problem.widths)
        rows = sizes + len(problem.bars) + len(region.tails)
        for low, high in [*region.box, *region.tails.values()]:
            self.lower.append(low)
            self.upper.append(high)
        starts: list[int] = []
        index: list[int] = []
        value: list[int] = []
        tails = list(region.tails)
        for pattern in self.patterns:
            starts.append(len(index))
            for size, number in pattern.content:
                index.append(size)
                value.append(number)
            index.append(sizes + pattern.bar)
            more = [sizes + len(problem.bars) + k for k, t in enumerate(tails) if t <= pattern.bar]
            index += more
            value += [1] * (1 + len(more))
        self.starts = np.array(starts, dtype=np.int64)
        self.index = np.array(index, dtype=np.int64)
        self.value = np.array(value, dtype=np.int64)
        self._load(rows)

    def _load(self, rows: int) -> None:
        self.highs = quiet_highs()
        # These programs are so degenerate that the dual simplex stalls unperturbed.
        self.highs.setOptionValue("dual_simplex_cost_perturbation_multiplier", 1.0)
        most = max(1_000, MOST_PIVOTING // max(1, self.count))
        self.highs.setOptionValue("simplex_iteration_limit", most)
        none, empty = np.zeros(rows, dtype=np.int32), np.empty(0, dtype=np.int32)
        lower, upper = np.array(self.lower, float), np.array(self.upper, float)
        self.highs.addRows(rows, lower, upper, 0, none, empty, np.empty(0))
        self.highs.addCols(
            self.count,
            self.costs.astype(np.float64),
            np.zeros(self.count),
            np.ones(self.count),
            len(self.index),
            self.starts.astype(np.int32),
            self.index.astype(np.int32),
            self.value.astype(np.float64),
        )
        self._add_stand_ins(range(rows))

    def _first_limits(self) -> Whole:
        limits = [
            min(self.problem.demands[size] // number for size, number in pattern.content)
            for pattern in self.patterns
        ]
        return np.array(limits, dtype=np.int64)

    def _holding(self) -> list[Flags]:
        """Return for each size which patterns hold it."""
        holds = [np.zeros(self.count, dtype=np.bool_) for _ in self.problem.widths]
        for at, pattern in enumerate(self.patterns):
            for size, _ in pattern.content:
                holds[size][at] = True
        return holds

    def _explore(self, node: _Node) -> list[_Node] | Cuts | None:
        """Return the children of a node, [] if it is closed, a plan, or None if it is stuck."""
        for _ in range(4):
            solved = self._solve(node)
            if solved is None:
                return None
            duals, counts = solved
            raw, reduced, scale = self._certificate(node, duals)
            slack = self.limit * scale - raw
            if self._exceeds(raw, scale):
                return []
            fixed = self._fix(node, reduced, slack)
            plan = self._plan(counts)
            if plan is not None:
                return plan
            if not fixed:
                break
        return self._branch(node, counts)

    def _exceeds(self, raw: int, scale: int) -> bool:
        return self.problem.round_up(raw, scale) > self.limit

    def _solve(self, node: _Node) -> tuple[Floats, Floats] | None:
        """Return (row duals, pattern counts) of the node's linear program; None: no optimum."""
        highs = self.highs
        columns = np.arange(self.count, dtype=np.int32)
        most = node.most.astype(np.float64)
        highs.changeColsBounds(self.count, columns, np.zeros(self.count), most)
        for row in self.cut_masks:
            low, high = node.pairs.get(row, (0, MANY))
            highs.changeRowBounds(row, float(low), float(high))
        highs.setOptionValue("simplex_strategy", 1)
        highs.run()
        self.work += (
            200_000 + max(0, highs.getInfo().simplex_iteration_count) * len(self.lower) * 20
        )
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = highs.getSolution()
        return np.array(solution.row_dual), np.array(solution.col_value)[: self.count]

    def _certificate(self, node: _Node, duals: Floats) -> tuple[int, Whole, int]:
        """Return (scaled bound, scaled reduced costs, scale), all whole and true for any duals."""
        most = max(1.0, float(np.abs(duals).max()), float(self.costs.max()))
        scale = max(1, int(2**40 / most))
        whole = np.round(duals * scale).astype(np.int64)
        worth = np.add.reduceat(whole[self.index] * self.value, self.starts)
        reduced = self.costs * scale - worth
        for row, mask in self.cut_masks.items():
            if whole[row]:
                reduced[mask] -= whole[row]
        raw = sum(int(v) for v in (np.minimum(reduced, 0) * node.most).tolist())
        for row, dual in enumerate(whole.tolist()):
            low, high = node.pairs.get(row, (0, MANY))
            if row < len(self.lower):
                low, high = self.lower[row], self.upper[row]
            raw += dual * (low if dual > 0 else high)
        return raw, reduced, scale

    def _fix(self, node: _Node, reduced: Whole, slack: int) -> bool:
        """Lower ``most`` where one more use would break the limit; say whether much changed."""
        slack = max(0, slack)
        costly = reduced > 0
        allowed = np.where(costly, slack // np.maximum(reduced, 1), node.most)
        tighter = np.minimum(node.most, allowed)
        before = int((node.most > 0).sum())
        node.most = tighter
        return int((tighter > 0).sum()) < 0.7 * before

    def _plan(self, counts: Floats) -> Cuts | None:
        whole = np.round(counts)
        if np.abs(counts - whole).max() > WHOLE:
            return None
        used = np.flatnonzero(whole)
        cuts = {self.patterns[int(at)]: int(whole[at]) for at in used}
        is_whole = self.problem.covers(cuts) and self.problem.cost(cuts) <= self.limit
        return cuts if is_whole else None

    def _branch(self, node: _Node, counts: Floats) -> list[_Node] | None:
        pair = self._pair(counts)
        if pair is None:
            return self._branch_on_pattern(node, counts)
        (one, other), amount = pair
        both = self.holds[one] & self.holds[other]
        low, high = int(amount), int(amount) + 1
        row = self._cut_row((one, other), both)
        was = node.pairs.get(row, (0, MANY))
        apart = _Node(node.most.copy(), {**node.pairs, row: (was[0], low)})
        together = _Node(node.most.copy(), {**node.pairs, row: (high, was[1])})
        if low == 0:
            apart.most[both] = 0
        for size in (one, other):
            if self.problem.demands[size] == high:
                together.most[self.holds[size] & ~both] = 0
        return [apart, together]

    def _pair(self, counts: Floats) -> tuple[tuple[int, int], float] | None:
        """Return the two sizes whose common bars are most undecided, the larger sizes first."""
        sums: dict[tuple[int, int], float] = {}
        for at in np.flatnonzero(counts > WHOLE):
            held = [size for size, _ in self.patterns[int(at)].content]
            for spot, one in enumerate(held):
                for other in held[spot + 1 :]:
                    sums[one, other] = sums.get((one, other), 0.0) + float(counts[at])
        best, found = 0.01, None
        for pair in sorted(sums):
            away = abs(sums[pair] - round(sums[pair]))
            if away > best + 1e-9:
                best, found = away, pair
        return None if found is None else (found, sums[found])

    def _branch_on_pattern(self, node: _Node, counts: Floats) -> list[_Node] | None:
        away = np.abs(counts - np.round(counts))
        at = int(away.argmax())
        if away[at] <= WHOLE:
            return None
        mask = np.zeros(self.count, dtype=np.bool_)
        mask[at] = True
        row = self._cut_row((-1, at), mask)
        low, high = node.pairs.get(row, (0, MANY))
        whole = int(counts[at])
        less = _Node(node.most.copy(), {**node.pairs, row: (low, whole)})
        more = _Node(node.most.copy(), {**node.pairs, row: (whole + 1, high)})
        return [less, more]

    def _cut_row(self, key: tuple[int, int], mask: Flags) -> int:
        """Return the row that counts the bars cut by the patterns of ``mask``."""
        if key not in self.cut_rows:
            columns = np.flatnonzero(mask).astype(np.int32)
            self.highs.addRow(0.0, MANY, len(columns), columns, np.ones(len(columns)))
            row = self.highs.getNumRow() - 1
            self.cut_rows[key] = row
            self.cut_masks[row] = mask
            self._add_stand_ins([row])
        return self.cut_rows[key]

    def _add_stand_ins(self, rows: Sequence[int]) -> None:
        """Let every row be met or left at a price, so that there always is an optimum."""
        count = 2 * len(rows)
        price = 100.0 * max(1.0, float(self.costs.max()))
        self.highs.addCols(
            count,
            np.full(count, price),
            np.zeros(count),
            np.full(count, highspy.kHighsInf),
            count,
            np.arange(count, dtype=np.int32),
            np.repeat(np.array(rows, dtype=np.int32), 2),
            np.tile([1.0, -1.0], len(rows)),
        )
