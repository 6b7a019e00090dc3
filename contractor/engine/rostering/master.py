"""The linear program over the options found so far, held by HiGHS.

Rows: each job once (or left out, at its price), each crew half-day at most once. Columns
are added as pricing finds them (column generation; Desaulniers, Desrosiers and Solomon
2005, ch. 1).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from contractor.engine.rostering.table import ALONE, Ints, OptionTable

Floats = NDArray[np.float64]
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Answer:
    """Values of the rows of the table that are in the program, and its dual prices."""

    value: float
    rows: Ints
    x: Floats
    job_price: Floats
    cell_price: Floats  # per half-day of every crew, at most 0
    is_optimal: bool


class _SilentHighs(highspy.Highs):  # type: ignore[misc]
    """HiGHS writes a banner as soon as callbacks are enabled; this turns output off before."""

    def enableCallbacks(self) -> None:  # noqa: N802
        self.silent()
        super().enableCallbacks()


def quiet_highs(stop: Stop | None = None) -> highspy.Highs:
    """A single-threaded solver that says nothing and gives up when ``stop`` says so."""
    highs = _SilentHighs()
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("random_seed", 0)
    if stop is not None:
        halt = stop

        def ask(event: object) -> None:
            if halt():
                event.interrupt()  # type: ignore[attr-defined]

        for callback in (highs.cbSimplexInterrupt, highs.cbIpmInterrupt, highs.cbMipInterrupt):
            callback.subscribe(ask)
    return highs


def columns_of(table: OptionTable, rows: Ints) -> tuple[Ints, Ints]:
    """Starts and row indices of the 0/1 columns of ``rows``, as HiGHS wants them."""
    paired = (table.mate[rows] != ALONE).astype(np.int64)
    count = table.length[rows] + 1 + paired
    start = np.concatenate((np.zeros(1, np.int64), np.cumsum(count)))
    index = np.empty(int(start[-1]), np.int64)
    index[start[:-1]] = table.job[rows]
    two = np.flatnonzero(paired)
    index[start[two] + 1] = table.mate[rows[two]]
    for step in range(int(table.length[rows].max(initial=0))):
        longer = np.flatnonzero(table.length[rows] > step)
        where = start[longer] + 1 + paired[longer] + step
        index[where] = table.job_count + table.cell[rows[longer]] + step
    return start, index


class Master:
    """The restricted program; ``inside`` marks the rows of the table that it holds."""

    def __init__(self, table: OptionTable, stop: Stop | None = None) -> None:
        self.table = table
        self.inside = np.zeros(len(table), np.bool_)
        self.order = np.zeros(0, np.int64)
        self.highs = quiet_highs(stop)
        self.highs.setOptionValue("presolve", "off")
        self.highs.passModel(self._empty_program())

    def _empty_program(self) -> highspy.HighsLp:
        jobs, cells = self.table.job_count, self.table.cell_count
        program = highspy.HighsLp()
        program.num_col_, program.num_row_ = jobs, jobs + cells
        program.col_cost_ = self.table.unplanned.astype(float)
        program.col_lower_ = np.zeros(jobs)
        program.col_upper_ = np.full(jobs, np.inf)
        program.row_lower_ = np.concatenate((np.ones(jobs), np.full(cells, -np.inf)))
        program.row_upper_ = np.ones(jobs + cells)
        program.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        program.a_matrix_.start_ = np.arange(jobs + 1)
        program.a_matrix_.index_ = np.arange(jobs)
        program.a_matrix_.value_ = np.ones(jobs)
        return program

    def add(self, rows: Ints) -> int:
        """Add the columns of ``rows`` that are not in yet; return how many."""
        rows = rows[~self.inside[rows]]
        if not len(rows):
            return 0
        self.inside[rows] = True
        self.order = np.concatenate((self.order, rows))
        start, index = columns_of(self.table, rows)
        self.highs.addCols(
            len(rows),
            self.table.cost[rows].astype(float),
            np.zeros(len(rows)),
            np.full(len(rows), np.inf),
            len(index),
            start[:-1].astype(np.int32),
            index.astype(np.int32),
            np.ones(len(index)),
        )
        return len(rows)

    def solve(self, *, interior: bool = False, tidy: bool = True) -> Answer:
        """Solve the program; ``interior`` by interior points, without a basis unless ``tidy``."""
        highs = self.highs
        highs.setOptionValue("solver", "ipm" if interior else "simplex")
        highs.setOptionValue("run_crossover", "on" if tidy else "off")
        highs.setOptionValue("ipm_optimality_tolerance", 1e-7 if tidy else 1e-2)
        highs.run()
        solution, jobs = highs.getSolution(), self.table.job_count
        dual = np.array(solution.row_dual)
        return Answer(
            value=highs.getObjectiveValue(),
            rows=self.order,
            x=np.array(solution.col_value)[jobs:],
            job_price=dual[:jobs],
            cell_price=np.minimum(dual[jobs:], 0.0),
            is_optimal=highs.getModelStatus() == highspy.HighsModelStatus.kOptimal,
        )

    def fix(self, places: Ints, value: float) -> None:
        """Force columns, numbered as in ``order``, to ``value`` (0 or 1)."""
        columns = (places + self.table.job_count).astype(np.int32)
        bounds = np.full(len(columns), value)
        self.highs.changeColsBounds(len(columns), columns, bounds, bounds)
