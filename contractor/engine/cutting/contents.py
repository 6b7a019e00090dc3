"""A linear program over contents of bars of one type, as HiGHS holds it.

Rows: one per size (at least the need), and at times one that caps a weighted sum of columns.
Columns: one per size for a missing piece, at a price; then contents, each at the cost of a bar.
"""

from __future__ import annotations

from collections.abc import Iterable
from copy import copy
from itertools import chain

import highspy
import numpy as np

from contractor.engine.cutting.knapsack import Flags, Whole
from contractor.engine.cutting.master import Floats, quiet_highs
from contractor.engine.cutting.problem import Content

INFINITY = highspy.kHighsInf


class ContentProgram:
    """Contents in ``columns``; every solution leaves ``uses``, ``duals``, ``fee``, ``missing``."""

    def __init__(self, needs: Whole, prices: Floats) -> None:
        self.needs = needs
        self.sizes = len(needs)
        self.columns: list[Content] = []
        self.known: set[Content] = set()
        self.weights: Whole = np.zeros(0, dtype=np.int64)
        self.cap = 0
        self.pivots = 0
        self._flat: tuple[Whole, Whole, Whole] | None = None
        self.highs = quiet_highs()
        none, empty = np.zeros(self.sizes, dtype=np.int32), np.empty(0, dtype=np.int32)
        least, most = needs.astype(float), np.full(self.sizes, INFINITY)
        self.highs.addRows(self.sizes, least, most, 0, none, empty, np.empty(0))
        rows, zeros = np.arange(self.sizes, dtype=np.int32), np.zeros(self.sizes)
        self.highs.addCols(
            self.sizes, prices, zeros, most, self.sizes, rows, rows, np.ones(self.sizes)
        )

    def copied(self) -> ContentProgram:
        """Return a program of its own at the same solution."""
        other = copy(self)
        other.needs = self.needs.copy()
        other.columns, other.known = list(self.columns), set(self.known)
        other.highs = quiet_highs()
        other.highs.passModel(self.highs.getLp())
        other.highs.setBasis(self.highs.getBasis())
        return other

    def set_prices(self, prices: Floats) -> None:
        """Let a missing piece of each size cost so much."""
        self.highs.changeColsCost(self.sizes, np.arange(self.sizes, dtype=np.int32), prices)

    def set_needs(self, needs: Floats) -> None:
        rows = np.arange(self.sizes, dtype=np.int32)
        self.highs.changeRowsBounds(self.sizes, rows, needs, np.full(self.sizes, INFINITY))

    def add(self, contents: Iterable[Content]) -> int:
        """Add the contents not there yet; return how many were new."""
        fresh = [one for one in dict.fromkeys(contents) if one not in self.known]
        if not fresh:
            return 0
        starts = np.cumsum([0, *map(len, fresh[:-1])]).astype(np.int32)
        pairs = np.array([pair for one in fresh for pair in one], dtype=np.int32)
        count, length = len(fresh), len(pairs)
        sizes, numbers = pairs[:, 0].copy(), pairs[:, 1].astype(float)
        none, most = np.zeros(count), np.full(count, INFINITY)
        self.highs.addCols(count, np.ones(count), none, most, length, starts, sizes, numbers)
        self.columns += fresh
        self.known.update(fresh)
        self._flat = None
        return count

    def keep(self, kept: Flags) -> None:
        """Delete the other columns."""
        gone = np.flatnonzero(~kept)
        if len(gone):
            self.highs.deleteCols(len(gone), (gone + self.sizes).astype(np.int32))
            self.columns = [one for one, stays in zip(self.columns, kept, strict=True) if stays]
            self.known = set(self.columns)
            self._flat = None

    def bar(self, barred: Flags, is_barred: bool) -> None:
        """Forbid columns, or allow them again."""
        at = (np.flatnonzero(barred) + self.sizes).astype(np.int32)
        most = np.full(len(at), 0.0 if is_barred else INFINITY)
        self.highs.changeColsBounds(len(at), at, np.zeros(len(at)), most)

    def ask_less(self, weights: Whole, cap: int) -> None:
        """Ask that sum(weight x uses) is at most ``cap``, in place of what was asked before."""
        self.ask_nothing()
        self.weights, self.cap = weights, cap
        at = np.flatnonzero(weights)
        columns, values = (at + self.sizes).astype(np.int32), weights[at].astype(float)
        self.highs.addRow(-INFINITY, float(cap), len(at), columns, values)

    def ask_nothing(self) -> None:
        if len(self.weights):
            self.highs.deleteRows(1, np.array([self.sizes], dtype=np.int32))
        self.weights, self.cap = np.zeros(0, dtype=np.int64), 0

    def remember(self) -> None:
        """Keep the basis of the last solution."""
        basis = self.highs.getBasis()
        states = list(basis.col_status)
        contents = dict(zip(self.columns, states[self.sizes :], strict=True))
        self._basis = states[: self.sizes], contents, list(basis.row_status)

    def recall(self) -> None:
        """Go back to the basis kept, as far as its columns are still there."""
        missing, contents, rows = self._basis
        lower = highspy.HighsBasisStatus.kLower
        basis = highspy.HighsBasis()
        basis.col_status = missing + [contents.get(one, lower) for one in self.columns]
        basis.row_status = rows
        basis.valid = True
        self.highs.setBasis(basis)

    def solve(self, is_after_columns: bool) -> bool:
        """Solve; False when HiGHS gives no optimal basis."""
        self.highs.setOptionValue("simplex_strategy", 4 if is_after_columns else 1)
        self.highs.run()
        self.pivots += max(0, self.highs.getInfo().simplex_iteration_count)
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return False
        solution = self.highs.getSolution()
        values: Floats = np.array(solution.col_value)
        duals: Floats = np.array(solution.row_dual)
        self.missing = float(values[: self.sizes].sum())
        self.uses: Floats = values[self.sizes :]
        self.duals, self.fee = duals[: self.sizes], max(0.0, -float(duals[self.sizes :].sum()))
        self.value = float(self.highs.getInfo().objective_function_value)
        return True

    def reduced_costs(self) -> Floats:
        """Return the reduced costs of the columns at the last solution; -1 for basic ones."""
        costs: Floats = np.array(self.highs.getSolution().col_dual)[self.sizes :]
        basic = highspy.HighsBasisStatus.kBasic
        states = self.highs.getBasis().col_status[self.sizes :]
        costs[[at for at, state in enumerate(states) if state == basic]] = -1.0
        return costs

    def worths(self, values: Whole) -> Whole:
        """Return what each column's pieces are worth at so much per piece of each size."""
        if not self.columns:
            return np.zeros(0, dtype=np.int64)
        starts, sizes, numbers = self._flatten()
        worths: Whole = np.add.reduceat(values[sizes] * numbers, starts)
        return worths

    def holding(self, sizes: Iterable[int]) -> Flags:
        """Say which columns hold one of these sizes."""
        mark = np.zeros(self.sizes, dtype=np.int64)
        mark[list(sizes)] = 1
        held: Flags = self.worths(mark) > 0
        return held

    def _flatten(self) -> tuple[Whole, Whole, Whole]:
        if self._flat is None:
            flat = chain.from_iterable(chain.from_iterable(self.columns))
            pairs = np.fromiter(flat, dtype=np.int64).reshape(-1, 2)
            starts = np.cumsum([0, *map(len, self.columns[:-1])]).astype(np.int64)
            self._flat = starts, pairs[:, 0].copy(), pairs[:, 1].copy()
        return self._flat

    def do_fit(self) -> Flags:
        """Say which columns hold no more of any size than is needed."""
        if not self.columns:
            return np.zeros(0, dtype=np.bool_)
        starts, sizes, numbers = self._flatten()
        fits: Flags = np.logical_and.reduceat(numbers <= self.needs[sizes], starts)
        return fits
