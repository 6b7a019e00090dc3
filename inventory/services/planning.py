"""Plan the saw: read and commit, compute, then lock, check that nothing changed, store.

The solver never runs inside a transaction. A plan that its inputs have outrun is thrown away.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from contractor.api.events import record
from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.errors import DomainError, InvalidValueError
from contractor.queue import nudge
from inventory import locks
from inventory.computing import Computed, Solver, compute, solver
from inventory.cutlists import CUTTABLE, unsawn_bars
from inventory.errors import (
    InputsChangedError,
    InsufficientStockError,
    NothingToCutError,
    PlanNotAcceptedError,
)
from inventory.models import CuttingPlan, Kit, KitLine, Part, Reservation
from inventory.plan_rows import (
    check_unchanged,
    let_bars_go,
    let_kits_go,
    save_figures,
    save_places,
    write_bars,
)
from inventory.promising import Rank, open_lines
from inventory.services.reserving import hold_needs, in_live_plan, kit_needs, release_held
from inventory.states import move_plan

ATTEMPTS = 3
SECONDS = 10.0
S = CuttingPlan.Status


@service
def request_cuts(kit_pks: Sequence[int]) -> list[CuttingPlan]:
    """Ask for cutting plans, one per part; a worker makes them. Raises NothingToCutError."""
    kits = locks.lock_kits(kit_pks)
    branch = _one_branch(kits)
    made = []
    for part in _parts_to_cut(kits):
        plan = CuttingPlan.objects.create(branch=branch, part=part, **_rules(part))
        plan.kits.set(kits)
        record("cutting_plan.requested", plan, branch=branch, part=part.pk)
        nudge("inventory.tasks.plan_cuts", plan_pk=plan.pk)
        made.append(plan)
    return made


def plan_cuts(
    kit_pks: Sequence[int], *, at: datetime, seconds: float = SECONDS, seed: int = 1
) -> list[CuttingPlan]:
    """Plan all pieces of the kits, one plan per part, and hold the bars. Not a transaction.

    Raises InsufficientStockError, PieceTooLongError, NothingToCutError before anything is
    written; InputsChangedError when others keep taking the stock.
    """
    kits = list(Kit.objects.filter(pk__in=kit_pks).order_by("pk"))
    branch = _one_branch(kits)
    parts = _parts_to_cut(kits)
    keys = [kit.pk for kit in kits]
    solve_it = solver(seconds, seed)
    computed = [compute(branch, part, keys, None, at, solve_it) for part in parts]
    return [
        _store_with_retries(branch, part, keys, first, at, solve_it)
        for part, first in zip(parts, computed, strict=True)
    ]


def plan_requested(
    plan_pk: int, *, at: datetime, seconds: float = SECONDS, seed: int = 1
) -> CuttingPlan:
    """Make a requested plan; a refusal is written into the row. Run twice, it does nothing."""
    plan = CuttingPlan.objects.select_related("branch", "part").get(pk=plan_pk)
    if plan.status != S.REQUESTED:
        return plan
    keys = sorted(plan.kits.values_list("pk", flat=True))
    try:
        computed = compute(plan.branch, plan.part, keys, None, at, solver(seconds, seed))
    except PlanNotAcceptedError:
        raise
    except DomainError as error:
        return _refuse(plan_pk, error)
    return _store(computed, at, plan_pk)


@service
def cancel_plan(plan_pk: int, *, at: datetime, if_match: int | None = None) -> CuttingPlan:
    """Drop a plan before sawing starts. Each reserved kit holds bars of its own again.

    A kit for which that fails, now that its pieces share no bars with others, becomes open;
    when another plan still cuts for it, the refusal (InsufficientStockError) stands.
    """
    kits = locks.lock_kits(_kits_of(plan_pk))
    locks.lock_holds_of(kits)
    plan = locks.lock_plan(plan_pk)
    plan.expect_version(if_match)
    had_bars = plan.status == S.DRAFT
    move_plan(plan, S.CANCELLED)
    places = {locks.place_key(r): r for r in locks.lock_bars(plan.branch_id, plan.part_id)}
    let_bars_go(unsawn_bars(plan), places)
    save_places(places)
    plan.needs_replan = False
    plan.save(update_fields=["status", "needs_replan"])
    record("cutting_plan.cancelled", plan, branch=plan.branch)
    for kit in kits:
        if had_bars and kit.status in (Kit.Status.RESERVED, Kit.Status.PULLING):
            _hold_again(kit, plan.part_id, at)
    return plan


def _kits_of(plan_pk: int) -> list[int]:
    """Return the plan's kits, read before the lock: a plan never changes them."""
    rows = CuttingPlan.kits.through.objects.filter(cuttingplan=plan_pk)
    return sorted(rows.values_list("kit", flat=True))


def _hold_again(kit: Kit, part_pk: int, at: datetime) -> None:
    """Hold bars for a locked kit's own pieces; their places are locked already."""
    held = locks.lock_holds_of([kit])
    needs, parts = kit_needs(kit)
    wanted = [need for need in needs if need.part_pk == part_pk]
    rank = Rank(kit.priority, kit.needed_on, kit.pk)
    try:
        hold_needs(held[0], kit.branch, wanted, parts, at, rank)
    except InsufficientStockError:
        if kit.status != Kit.Status.RESERVED or in_live_plan(kit):
            raise
        release_held(kit, Reservation.Status.RELEASED)
        record("kit.hold_lost", kit, branch=kit.branch)


def _store_with_retries(
    branch: Branch,
    part: Part,
    kit_pks: Sequence[int],
    computed: Computed,
    at: datetime,
    solve_it: Solver,
) -> CuttingPlan:
    for _ in range(ATTEMPTS - 1):
        try:
            return _store(computed, at, None)
        except InputsChangedError:
            computed = compute(branch, part, kit_pks, None, at, solve_it)
    return _store(computed, at, None)


@service
def _store(computed: Computed, at: datetime, plan_pk: int | None) -> CuttingPlan:
    inputs = computed.inputs
    kits = locks.lock_kits(inputs.kit_pks)
    locks.lock_holds_of(kits)
    if plan_pk is None:
        part = Part.objects.get(pk=inputs.part_pk)
        plan = CuttingPlan.objects.create(branch_id=inputs.branch_pk, part=part, **_rules(part))
        plan.kits.set(kits)
    else:
        plan = locks.lock_plan(plan_pk)
    move_plan(plan, S.DRAFT)
    places = check_unchanged(inputs, None)
    let_kits_go(inputs, places)
    write_bars(plan, computed.plan.bars, places, first_number=1)
    save_places(places)
    save_figures(plan, computed.plan, at)
    record("cutting_plan.drafted", plan, branch=plan.branch, bars=plan.bars.count())
    return plan


@service
def _refuse(plan_pk: int, error: DomainError) -> CuttingPlan:
    plan = locks.lock_plan(plan_pk)
    if plan.status == S.REQUESTED:
        move_plan(plan, S.REFUSED)
        plan.problem = {"code": error.code, "detail": error.detail, **error.facts}
        plan.save(update_fields=["status", "problem"])
        record("cutting_plan.refused", plan, branch=plan.branch, code=error.code)
    return plan


def _rules(part: Part) -> dict[str, int]:
    names = ("kerf_ticks", "end_trim_ticks", "min_offcut_ticks")
    return {name: getattr(part, name) for name in names}


def _one_branch(kits: Sequence[Kit]) -> Branch:
    if not kits or len({kit.branch_id for kit in kits}) != 1:
        raise InvalidValueError(
            "A cutting plan is for kits of one branch.", remedy="Choose such kits."
        )
    return kits[0].branch


def _parts_to_cut(kits: Sequence[Kit]) -> list[Part]:
    ready = [kit for kit in kits if kit.status in CUTTABLE]
    lines = KitLine.objects.filter(kit__in=ready).select_related("part").order_by("pk")
    wanted = open_lines(line for line in lines if line.part.is_bar)
    parts = {line.part_id: line.part for line, count in wanted if count > 0}
    if not parts:
        raise NothingToCutError(
            "No kit wants a piece that is not planned or sawn already.",
            remedy="Choose other kits.",
        )
    return [parts[pk] for pk in sorted(parts)]
