"""Parts of the problem solved to proof by branch and bound (HiGHS).

Good for many options at once: the linear relaxation of this model is nearly whole, so
most parts close at the root.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import highspy
import numpy as np

from contractor.engine.rostering.master import Stop, columns_of, quiet_highs
from contractor.engine.rostering.part import Cap, Part
from contractor.engine.rostering.table import Ints

SLACK = 1e-2  # a bound in floating point is lowered by this before it is rounded up


@dataclass(frozen=True)
class Solved:
    """The best rows found for a part, and a bound on the cost of any choice within it.

    ``rows`` is None when nothing was found; the costs include the jobs left out.
    """

    rows: list[int] | None
    bound: float
    is_proven: bool


def solve_part(
    part: Part,
    *,
    stop: Stop,
    seconds: float | None,
    nodes: int | None,
    cap: Cap | None = None,
) -> Solved:
    """Minimise the cost of ``part`` (within ``cap``) in ``seconds`` or ``nodes`` of search."""
    highs = quiet_highs(stop)
    for option in ("mip_rel_gap", "mip_abs_gap"):
        highs.setOptionValue(option, 0.99 if option == "mip_abs_gap" else 0.0)
    if seconds is not None:
        highs.setOptionValue("time_limit", seconds)
    if nodes is not None:
        highs.setOptionValue("mip_max_nodes", nodes)
    highs.passModel(_program(part))
    if cap is not None:
        _add_cap(highs, part, cap)
    # No start solution: HiGHS 1.16 with one and presolve shifts the objective and then
    # calls the start optimal. ``_answer`` would notice, the search would be wasted.
    highs.run()
    return _answer(part, highs)


def _add_cap(highs: highspy.Highs, part: Part, cap: Cap) -> None:
    lost = np.concatenate((np.zeros(len(part.rows)), cap.promised[part.jobs].astype(float)))
    moves = lost + np.concatenate((cap.moves_of[part.rows], np.zeros(len(part.jobs))))
    for weights, most in ((lost, cap.lost), (moves, cap.moves)):
        columns = np.flatnonzero(weights).astype(np.int32)
        highs.addRow(-np.inf, float(most), len(columns), columns, weights[columns])


def _answer(part: Part, highs: highspy.Highs) -> Solved:
    """What HiGHS found, trusted only where its objective equals the recounted cost."""
    info = highs.getInfo()
    feasible = highspy.SolutionStatus.kSolutionStatusFeasible
    if info.primal_solution_status != feasible:
        return Solved(None, info.mip_dual_bound, False)
    values = np.array(highs.getSolution().col_value)
    used = values > 0.5
    cost = np.concatenate((part.table.cost[part.rows], part.table.unplanned[part.jobs]))
    if abs(int(cost[used].sum()) - highs.getObjectiveValue()) > 0.5:
        return Solved(None, -math.inf, False)
    proven = highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
    rows: list[int] = part.rows[used[: len(part.rows)]].tolist()
    return Solved(rows, info.mip_dual_bound, proven)


def _program(part: Part) -> highspy.HighsLp:
    table, rows, jobs = part.table, part.rows, part.jobs
    start, index = columns_of(table, rows)
    used = np.union1d(index, jobs)
    place = np.zeros(table.job_count + table.cell_count, np.int64)
    place[used] = np.arange(len(used))
    width = len(rows) + len(jobs)
    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = width, len(used)
    program.col_cost_ = np.concatenate((table.cost[rows], table.unplanned[jobs])).astype(float)
    program.col_lower_ = np.zeros(width)
    program.col_upper_ = np.concatenate((np.ones(len(rows)), _may_stay_out(part)))
    program.integrality_ = [highspy.HighsVarType.kInteger] * width
    program.row_lower_ = np.where(used < table.job_count, 1.0, -np.inf)
    program.row_upper_ = np.ones(len(used))
    program.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    program.a_matrix_.start_ = np.concatenate((start, start[-1] + 1 + np.arange(len(jobs))))
    program.a_matrix_.index_ = np.concatenate((place[index], place[jobs]))
    program.a_matrix_.value_ = np.ones(len(index) + len(jobs))
    return program


def _may_stay_out(part: Part) -> Ints:
    return np.array([int(job not in part.must) for job in part.jobs.tolist()], np.int64)


def whole_bound(bound: float) -> int:
    """The least whole cost that ``bound`` allows, on the safe side of rounding."""
    if not math.isfinite(bound):
        return 0
    return math.ceil(bound - max(SLACK, 1e-6 * abs(bound)))
