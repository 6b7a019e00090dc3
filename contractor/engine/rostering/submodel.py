"""Parts of the problem as CP-SAT models: quick on neighbourhoods of a few dozen jobs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from contractor.engine.rostering.part import Cap, Part

if TYPE_CHECKING:  # CP-SAT brings pandas; only a plan that the bound leaves open needs it
    from ortools.sat.python import cp_model


@dataclass(frozen=True)
class Improved:
    """Rows for a part, and whether no better ones exist."""

    rows: list[int]
    is_proven: bool


def improve_part(
    part: Part, *, work: float, seconds: float | None, seed: int, cap: Cap | None = None
) -> Improved | None:
    """Return the best rows found for ``part`` (within ``cap``), or None.

    ``work`` is CP-SAT's deterministic time; the same part and seed give the same rows
    unless ``seconds`` cuts the run short.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    rows, jobs = part.rows.tolist(), part.jobs.tolist()
    use = [model.new_bool_var("") for _ in rows]
    left_out = [model.new_bool_var("") for _ in jobs]
    _constrain(model, part, use, left_out)
    if cap is not None:
        _cap(model, part, cap, use, left_out)
    cost = part.table.cost[part.rows].tolist() + part.table.unplanned[part.jobs].tolist()
    model.minimize(cp_model.LinearExpr.weighted_sum(use + left_out, cost))
    for variable, value in zip(use + left_out, part.in_use().tolist(), strict=True):
        model.add_hint(variable, value)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = work
    solver.parameters.random_seed = seed
    if seconds is not None:
        solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    used = [row for row, variable in zip(rows, use, strict=True) if solver.boolean_value(variable)]
    return Improved(used, status == cp_model.OPTIMAL)


def _cap(
    model: cp_model.CpModel,
    part: Part,
    cap: Cap,
    use: list[cp_model.IntVar],
    left_out: list[cp_model.IntVar],
) -> None:
    from ortools.sat.python import cp_model

    lost = cp_model.LinearExpr.weighted_sum(left_out, cap.promised[part.jobs].tolist())
    moves = cp_model.LinearExpr.weighted_sum(use, cap.moves_of[part.rows].tolist())
    model.add(lost <= cap.lost)
    model.add(moves + lost <= cap.moves)


def _constrain(
    model: cp_model.CpModel,
    part: Part,
    use: list[cp_model.IntVar],
    left_out: list[cp_model.IntVar],
) -> None:
    table = part.table
    covers = {
        job: [] if job in part.must else [variable]
        for job, variable in zip(part.jobs.tolist(), left_out, strict=True)
    }
    holds: dict[int, list[cp_model.IntVar]] = {}
    for row, variable in zip(part.rows.tolist(), use, strict=True):
        for job in table.jobs_of(row):
            covers[job].append(variable)
        first = int(table.cell[row])
        for cell in range(first, first + int(table.length[row])):
            holds.setdefault(cell, []).append(variable)
    for choices in covers.values():
        model.add_exactly_one(choices)
    for rivals in holds.values():
        if len(rivals) > 1:
            model.add_at_most_one(rivals)
