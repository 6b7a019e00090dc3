"""Solve and check a cutting plan. Nothing is locked, nothing is written."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from contractor.api.models import Branch
from contractor.engine.cutting import CutPlan, plan_document, read_instance, solve
from contractor.engine.cutting.check import check_plan
from contractor.engine.cutting.replan import replan
from inventory.allocation import Shortage, check_pieces_fit
from inventory.amounts import Need, day_at
from inventory.cutlists import Inputs, Wanted, gather, unsawn_bars
from inventory.errors import InsufficientStockError, PlanNotAcceptedError
from inventory.keeping import still_good
from inventory.models import CuttingPlan, Part
from inventory.promising import Rank, shortage_list


class Solver(Protocol):
    """Plans a ``cut-stock/1`` document; given a plan before, with as few changed bars as it can."""

    def __call__(self, document: Mapping[str, Any], before: CutPlan | None = None) -> CutPlan: ...


@dataclass(frozen=True)
class Computed:
    """A checked plan and what it was made from."""

    inputs: Inputs
    plan: CutPlan


def solver(seconds: float, seed: int, tolerance: float = 0.0) -> Solver:
    """Return the optimizer, limited to ``seconds``; a re-plan may cost ``tolerance`` more."""

    def solve_it(document: Mapping[str, Any], before: CutPlan | None = None) -> CutPlan:
        instance = read_instance(document)
        if before is None:
            return solve(instance, seconds=seconds, seed=seed)
        return replan(instance, before, tolerance=tolerance, seconds=seconds, seed=seed).plan

    return solve_it


def compute(
    branch: Branch,
    part: Part,
    kit_pks: Sequence[int],
    plan: CuttingPlan | None,
    at: datetime,
    solve_it: Solver,
) -> Computed:
    """Return a checked plan for what the kits want sawn; of ``plan``, its unsawn part anew.

    Raises NothingToCutError, PieceTooLongError, InsufficientStockError, PlanNotAcceptedError.
    """
    inputs = gather(branch.pk, part, kit_pks, plan)
    needs = [Need(part.pk, one.count, one.length_ticks) for one in inputs.wanted]
    check_pieces_fit(branch.pk, needs, {part.pk: part})
    _refuse_short(branch, part, inputs, {one.line_pk: one.count for one in _too_long(inputs)}, at)
    document = inputs.document()
    before = None if plan is None else still_good(inputs, unsawn_bars(plan))
    found = solve_it(document, before)
    if faults := check_plan(document, plan_document(found)):
        raise PlanNotAcceptedError(
            f"The plan for {part.code} did not pass its check: {faults[0].text}",
            remedy="Report it with the plan's inputs; nothing was stored.",
        )
    _refuse_short(branch, part, inputs, {int(line): count for line, count in found.unmet}, at)
    return Computed(inputs, found)


def _too_long(inputs: Inputs) -> list[Wanted]:
    longest = max((bar.length_ticks for bar in inputs.bars), default=0)
    return [one for one in inputs.wanted if one.length_ticks > longest - inputs.end_trim_ticks]


def _refuse_short(
    branch: Branch, part: Part, inputs: Inputs, short: dict[int, int], at: datetime
) -> None:
    if not short:
        return
    wanted: Counter[int] = Counter()
    missing: Counter[int] = Counter()
    for one in inputs.wanted:
        wanted[one.length_ticks] += one.count
        missing[one.length_ticks] += short.get(one.line_pk, 0)
    rows = [Shortage(part.pk, length, wanted[length], n) for length, n in missing.items() if n]
    on = day_at(branch, at)
    shortages = shortage_list(branch, rows, {part.pk: part}, on=on, rank=Rank(4))
    raise InsufficientStockError(
        f"Not enough bars of {part.code}: {sum(missing.values())} pieces find none.",
        remedy="Wait for the expected date, order bars, or plan fewer kits.",
        shortages=shortages,
    )
