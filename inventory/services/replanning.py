"""A piece was re-measured, lost or added: plan again what is not sawn, and only that."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from contractor.api.events import record
from contractor.api.transactions import service
from contractor.engine.cutting import CutPlan
from contractor.engine.cutting.model import Bar
from contractor.engine.units import format_length
from contractor.errors import DomainError, NotFoundError, WrongStateError
from contractor.queue import nudge
from inventory import locks
from inventory.allocation import check_pieces_fit
from inventory.amounts import Need, check_length, check_quantity
from inventory.computing import Computed, compute, solver
from inventory.cutlists import CUTTABLE, bar_place, own_holds, place_named, unsawn_bars
from inventory.errors import InputsChangedError, PieceAlreadySawnError, PlanNotAcceptedError
from inventory.holding import let_go
from inventory.models import CutPlanBar, CuttingPlan, Kit, KitLine
from inventory.plan_rows import (
    check_unchanged,
    let_bars_go,
    let_kits_go,
    save_figures,
    save_places,
    write_bars,
)
from inventory.preferences import replan_tolerance
from inventory.promising import Rank
from inventory.services.planning import ATTEMPTS, SECONDS
from inventory.services.reserving import LIVE_PLANS, hold_needs, kit_needs
from inventory.states import move_plan

S = CuttingPlan.Status


@service
def remeasure(
    kit_pk: int,
    line_pk: int,
    length_ticks: int,
    *,
    at: datetime,
    count: int | None = None,
    if_match: int | None = None,
) -> KitLine:
    """Give ``count`` (default: all) pieces of a kit line another length; return their line.

    Refused once one of them is sawn: that one is a mis-cut. A live plan is made again; a kit
    that holds bars of its own holds the right ones afterwards, or nothing changes.
    """
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    line = kit.lines.select_related("part").filter(pk=line_pk).first()
    if line is None:
        raise NotFoundError(f"Kit {kit.reference} has no line {line_pk}.")
    many = check_quantity(line.quantity if count is None else count, "#/count")
    _check_remeasure(kit, line, many, length_ticks)
    changed = _with_length(line, many, length_ticks)
    plans = _live_plans(kit, line.part_id)
    if plans:
        for plan in plans:
            _ask_again(plan)
    elif kit.status in (Kit.Status.RESERVED, Kit.Status.PULLING):
        _hold_bars_again(kit, line.part_id, at)
    kit.save(update_fields=["status"])
    record("kit.remeasured", kit, branch=kit.branch, line=changed.pk)
    return changed


def replan_cuts(
    plan_pk: int, *, at: datetime, seconds: float = SECONDS, seed: int = 1
) -> CuttingPlan:
    """Make a plan's unsawn part again if it is due. Not a transaction; run twice, harmless.

    A sawn bar is never touched; unsawn bars that the new plan cuts the same way keep their
    tickets. A refusal (too little stock) stays in the row until a later try succeeds.
    """
    for attempt in range(ATTEMPTS):
        plan = CuttingPlan.objects.select_related("branch__company", "part").get(pk=plan_pk)
        if not plan.needs_replan or plan.status not in LIVE_PLANS:
            return plan
        keys = sorted(plan.kits.values_list("pk", flat=True))
        try:
            solve_it = solver(seconds, seed, replan_tolerance(plan.branch.company))
            computed = compute(plan.branch, plan.part, keys, plan, at, solve_it)
        except PlanNotAcceptedError:
            raise
        except DomainError as error:
            return _note_problem(plan_pk, error)
        try:
            return _store(computed, plan_pk, at)
        except InputsChangedError:
            if attempt == ATTEMPTS - 1:
                raise
    raise AssertionError("the loop returns or raises")


def _check_remeasure(kit: Kit, line: KitLine, many: int, length_ticks: int) -> None:
    check_length(line.part, length_ticks, "#/length")
    if not line.part.is_bar or kit.status not in CUTTABLE:
        raise WrongStateError(
            f"Kit {kit.reference} is {kit.status}; {line.part.code} cannot be re-measured now.",
            remedy="Re-measure pieces of bars before the kit is staged.",
            status_now=kit.status,
        )
    if many > line.to_cut:
        raise PieceAlreadySawnError(
            f"{many} pieces re-measured, {line.to_cut} of them are not sawn.",
            remedy="Record a sawn piece as mis-cut; it is then planned again.",
            sawn=line.cut,
            length=format_length(line.length_ticks),
        )
    need = Need(line.part_id, many, length_ticks)
    check_pieces_fit(kit.branch_id, [need], {line.part_id: line.part})


def _with_length(line: KitLine, many: int, length_ticks: int) -> KitLine:
    if many == line.quantity:
        line.length_ticks = length_ticks
        line.save(update_fields=["length_ticks"])
        return line
    line.quantity -= many
    line.save(update_fields=["quantity"])
    return KitLine.objects.create(
        kit=line.kit, part=line.part, mark=line.mark, length_ticks=length_ticks, quantity=many
    )


def _live_plans(kit: Kit, part_pk: int) -> list[CuttingPlan]:
    plans = kit.cutting_plans.filter(part=part_pk, status__in=LIVE_PLANS)
    return list(plans.select_for_update(of=("self",)).order_by("pk"))


def _ask_again(plan: CuttingPlan) -> None:
    plan.needs_replan = True
    plan.save(update_fields=["needs_replan"])
    nudge("inventory.tasks.replan_cuts", plan_pk=plan.pk)


def _hold_bars_again(kit: Kit, part_pk: int, at: datetime) -> None:
    held = locks.lock_holds_of([kit])
    locks.lock_bars(kit.branch_id, part_pk)
    needs, parts = kit_needs(kit)
    wanted = [need for need in needs if need.part_pk == part_pk]
    if wanted:
        let_go(own_holds(parts[part_pk], [kit.pk]))
        rank = Rank(kit.priority, kit.needed_on, kit.pk)
        hold_needs(held[0], kit.branch, wanted, parts, at, rank)


@service
def _store(computed: Computed, plan_pk: int, at: datetime) -> CuttingPlan:
    inputs = computed.inputs
    kits = locks.lock_kits(inputs.kit_pks)
    locks.lock_holds_of(kits)
    plan = locks.lock_plan(plan_pk)
    if not plan.needs_replan or plan.status not in LIVE_PLANS:
        return plan
    places = check_unchanged(inputs, plan)
    let_kits_go(inputs, places)
    before = unsawn_bars(plan)
    gone, fresh = _differences(before, computed.plan)
    let_bars_go(gone, places)
    last = plan.bars.order_by("-number").values_list("number", flat=True).first() or 0
    write_bars(plan, fresh, places, first_number=last + 1)
    save_places(places)
    if not computed.plan.bars and plan.status == S.FROZEN:
        move_plan(plan, S.DONE)
    save_figures(plan, computed.plan, at)
    record(
        "cutting_plan.replanned",
        plan,
        branch=plan.branch,
        bars_gone=[bar.number for bar in gone],
        bars_new=sum(bar.count for bar in fresh),
    )
    return plan


def _differences(
    before: Sequence[CutPlanBar], found: CutPlan
) -> tuple[list[CutPlanBar], list[Bar]]:
    """Return the old bars that go and the new bars that come; bars cut alike stay as they are."""
    waiting: dict[object, list[CutPlanBar]] = {}
    for row in before:
        waiting.setdefault(_cut_of(row), []).append(row)
    fresh: list[Bar] = []
    for bar in found.bars:
        for _ in range(bar.count):
            same = waiting.get((place_named(bar.stock), tuple(sorted(bar.pieces)), bar.left))
            if same:
                same.pop(0)
            else:
                fresh.append(Bar(bar.stock, 1, bar.pieces, bar.left, bar.is_kept))
    gone = [row for rows in waiting.values() for row in rows]
    return sorted(gone, key=lambda row: row.number), fresh


def _cut_of(row: CutPlanBar) -> tuple[object, ...]:
    counts: dict[str, int] = {}
    for piece in row.pieces.select_related("kit_line"):
        is_current = piece.length_ticks == piece.kit_line.length_ticks
        key = str(piece.kit_line_id) if is_current else f"old {piece.pk}"
        counts[key] = counts.get(key, 0) + 1
    return bar_place(row), tuple(sorted(counts.items())), row.left_ticks


@service
def _note_problem(plan_pk: int, error: DomainError) -> CuttingPlan:
    plan = locks.lock_plan(plan_pk)
    problem = {"code": error.code, "detail": error.detail, **error.facts}
    if plan.problem != problem:
        plan.problem = problem
        plan.save(update_fields=["problem"])
        record("cutting_plan.stuck", plan, branch=plan.branch, code=error.code)
    return plan
