"""Plans, the saw, and what happens when a piece goes wrong. Plans are judged by the checker."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection, transaction

from contractor import queue
from contractor.api.models import Branch
from contractor.engine.cutting import plan_document
from contractor.engine.cutting.check import check_plan
from contractor.errors import InvalidValueError, NotFoundError, WrongStateError
from inventory import computing, services
from inventory.amounts import Delivery, Need
from inventory.cutlists import gather
from inventory.errors import (
    InputsChangedError,
    InsufficientStockError,
    KitInPlanError,
    NothingToCutError,
    PieceAlreadySawnError,
    PieceTooLongError,
    PlanNotAcceptedError,
)
from inventory.models import (
    Balance,
    CutPiece,
    CutPlanBar,
    CuttingPlan,
    Kit,
    LedgerEntry,
    Offcut,
    Part,
    StockLength,
    Supplier,
)
from inventory.queries import stock_faults
from inventory.services.planning import _store
from tests.inventory.conftest import AT, FT, kit_of, written

PIECE = 8 * FT - 32


@pytest.fixture
def kit(stocked: Branch, beam: Part) -> Kit:
    made = kit_of(stocked, Need(beam.pk, 3, PIECE, "B"))
    return services.reserve_kit(made.pk, at=AT)


@pytest.fixture
def plan(kit: Kit) -> CuttingPlan:
    (made,) = services.plan_cuts([kit.pk], at=AT)
    return made


def rows(plan: CuttingPlan) -> list[CutPlanBar]:
    return list(plan.bars.order_by("number"))


def test_a_plan_over_two_kits_shares_bars_and_is_accepted_by_the_checker(
    stocked: Branch, beam: Part
) -> None:
    one = kit_of(stocked, Need(beam.pk, 1, 12 * FT), reference="one")
    two = kit_of(stocked, Need(beam.pk, 1, 7 * FT), reference="two")
    for kit in (one, two):
        services.reserve_kit(kit.pk, at=AT)
    assert StockLength.objects.get().reserved == 2
    inputs = gather(stocked.pk, beam, [one.pk, two.pk])
    (plan,) = services.plan_cuts([one.pk, two.pk], at=AT)
    assert StockLength.objects.get().reserved == 1  # both pieces out of one bar
    found = computing.solver(5, 1)(inputs.document())
    assert check_plan(inputs.document(), plan_document(found)) == []
    assert (plan.cost_cents, plan.bound_cents, plan.is_proven) == (16_020, 16_020, True)
    assert stock_faults(stocked.pk) == []


def test_offcuts_are_used_before_full_bars(stocked: Branch, beam: Part) -> None:
    services.count_new(
        stocked.pk, beam.pk, 1, reason="found", at=AT, length_ticks=9 * FT, is_offcut=True
    )
    kit = kit_of(stocked, Need(beam.pk, 1, 8 * FT))
    (plan,) = services.plan_cuts([kit.pk], at=AT)  # an open kit can be planned as well
    assert [bar.offcut_id for bar in rows(plan)] == [Offcut.objects.get().pk]


def test_too_few_bars_write_nothing(stocked: Branch, beam: Part, supplier: Supplier) -> None:
    kit = kit_of(stocked, Need(beam.pk, 7, 10 * FT), Need(beam.pk, 1, 30 * FT))
    before = written()
    with pytest.raises(InsufficientStockError, match="Not enough bars of S4: 1 pieces find none"):
        services.plan_cuts([kit.pk], at=AT)
    assert written() == before
    assert CuttingPlan.objects.count() == 0
    beam.refresh_from_db()
    short = kit_of(stocked, Need(beam.pk, 7, 9 * FT))
    with pytest.raises(InsufficientStockError) as refused:
        services.plan_cuts([short.pk], at=AT)
    assert refused.value.facts["shortages"][0]["short"] == 1
    assert CuttingPlan.objects.count() == 0


def test_a_piece_longer_than_any_bar_is_refused(stocked: Branch, beam: Part) -> None:
    kit = kit_of(stocked, Need(beam.pk, 1, 20 * FT))
    kit.lines.update(length_ticks=21 * FT)
    with pytest.raises(PieceTooLongError):
        services.plan_cuts([kit.pk], at=AT)
    assert CuttingPlan.objects.count() == 0


def test_nothing_is_planned_twice(plan: CuttingPlan, kit: Kit) -> None:
    with pytest.raises(NothingToCutError):
        services.plan_cuts([kit.pk], at=AT)
    with pytest.raises(NothingToCutError):
        services.request_cuts([kit.pk])
    with pytest.raises(KitInPlanError):
        services.release_kit(kit.pk)
    assert CuttingPlan.objects.count() == 1


def test_a_plan_whose_check_fails_is_not_stored(kit: Kit, monkeypatch: pytest.MonkeyPatch) -> None:
    honest = computing.solver

    def liar(seconds: float, seed: int) -> Any:
        def solve(document: Any, before: Any = None) -> Any:
            found = honest(seconds, seed)(document, before)
            return type(found)(found.bars[1:], found.cost, found.bound, found.is_proven)

        return solve

    monkeypatch.setattr("inventory.services.planning.solver", liar)
    before = written()
    with pytest.raises(PlanNotAcceptedError):
        services.plan_cuts([kit.pk], at=AT)
    assert written() == before


def test_a_plan_is_stored_only_if_its_inputs_are_unchanged(
    stocked: Branch, beam: Part, kit: Kit
) -> None:
    computed = computing.compute(stocked, beam, [kit.pk], None, AT, computing.solver(5, 1))
    services.receive(stocked.pk, [Delivery(beam.pk, 1, quantity=1, length_ticks=20 * FT)], at=AT)
    before = written()
    with pytest.raises(InputsChangedError):
        _store(computed, AT, None)
    assert written() == before
    assert CuttingPlan.objects.count() == 0


def test_planning_again_after_a_change_succeeds(
    stocked: Branch, beam: Part, kit: Kit, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = computing.solver
    calls: list[int] = []

    def disturbed(seconds: float, seed: int) -> Any:
        def solve(document: Any, before: Any = None) -> Any:
            if not calls:
                one = Delivery(beam.pk, 16_020, quantity=1, length_ticks=20 * FT)
                services.receive(stocked.pk, [one], at=AT)
            calls.append(1)
            return honest(seconds, seed)(document)

        return solve

    monkeypatch.setattr("inventory.services.planning.solver", disturbed)
    (plan,) = services.plan_cuts([kit.pk], at=AT)
    assert (len(calls), plan.status) == (2, "draft")


def test_the_solver_never_runs_inside_a_transaction(
    stocked: Branch, beam: Part, kit: Kit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The test's own transaction is the outermost; a service's would be a savepoint in it."""
    honest = computing.solver
    depths: list[int] = []

    def watched(seconds: float, seed: int, tolerance: float = 0.0) -> Any:
        def solve(document: Any, before: Any = None) -> Any:
            depths.append(len(connection.savepoint_ids))
            return honest(seconds, seed, tolerance)(document, before)

        return solve

    monkeypatch.setattr("inventory.services.planning.solver", watched)
    monkeypatch.setattr("inventory.services.replanning.solver", watched)
    (plan,) = services.request_cuts([kit.pk])
    services.plan_requested(plan.pk, at=AT)
    line = kit.lines.filter(part=beam).first()
    assert line is not None
    services.remeasure(kit.pk, line.pk, line.length_ticks - 64, at=AT)
    services.replan_cuts(plan.pk, at=AT)
    plan.refresh_from_db()
    assert (depths, plan.needs_replan) == ([0, 0], False)
    with transaction.atomic():
        assert len(connection.savepoint_ids) == 1


def test_the_queue_makes_requested_plans(stocked: Branch, beam: Part, kit: Kit) -> None:
    (plan,) = services.request_cuts([kit.pk])
    assert plan.status == "requested"
    services.plan_requested(plan.pk, at=AT)
    plan.refresh_from_db()
    assert (plan.status, plan.bars.count()) == ("draft", 2)
    services.plan_requested(plan.pk, at=AT)  # a task may run twice
    assert plan.bars.count() == 2


def test_a_requested_plan_that_cannot_be_made_says_why(stocked: Branch, beam: Part) -> None:
    kit = kit_of(stocked, Need(beam.pk, 7, 10 * FT))
    (plan,) = services.request_cuts([kit.pk])
    services.plan_requested(plan.pk, at=AT)
    plan.refresh_from_db()
    assert (plan.status, plan.problem["code"]) == ("refused", "insufficient_stock")
    assert StockLength.objects.get().reserved == 0


def test_cancelling_a_draft_gives_each_kit_its_own_bars_again(
    stocked: Branch, plan: CuttingPlan, kit: Kit
) -> None:
    services.cancel_plan(plan.pk, at=AT)
    kit.refresh_from_db()
    assert (kit.status, StockLength.objects.get().reserved) == ("reserved", 2)
    assert CutPlanBar.objects.count() == 0
    assert stock_faults(stocked.pk) == []
    services.release_kit(kit.pk)
    assert StockLength.objects.get().reserved == 0


def test_a_kit_that_shared_a_bar_may_lose_its_hold(stocked: Branch, beam: Part) -> None:
    one = kit_of(stocked, Need(beam.pk, 1, 9 * FT), reference="one")
    two = kit_of(stocked, Need(beam.pk, 1, 9 * FT), reference="two")
    for kit in (one, two):
        services.reserve_kit(kit.pk, at=AT)
    (plan,) = services.plan_cuts([one.pk, two.pk], at=AT)
    services.reserve(stocked.pk, [Need(beam.pk, 2, 15 * FT)], at=AT)  # takes the other two bars
    services.cancel_plan(plan.pk, at=AT)
    one.refresh_from_db()
    two.refresh_from_db()
    assert (one.status, two.status) == ("reserved", "open")
    assert stock_faults(stocked.pk) == []


def test_sawing_freezes_the_plan_and_moves_the_steel(stocked: Branch, plan: CuttingPlan) -> None:
    services.start_sawing(plan.pk)
    with pytest.raises(WrongStateError):
        services.cancel_plan(plan.pk, at=AT)
    first = rows(plan)[0]
    services.record_sawn(first.pk, at=AT)
    with pytest.raises(WrongStateError, match="That bar has been sawn already"):
        services.record_sawn(first.pk, at=AT)
    kinds = list(
        LedgerEntry.objects.filter(stock_length__isnull=False).values_list("kind", "change")
    )
    assert kinds[1:] == [("cut", -1), ("scrap", 0), ("offcut", 0)]
    plan.refresh_from_db()
    assert plan.status == "frozen"
    services.record_sawn(rows(plan)[1].pk, at=AT)
    plan.refresh_from_db()
    assert plan.status == "done"
    assert plan.kits.get().lines.get().cut == 3
    assert stock_faults(stocked.pk) == []


def test_no_cent_is_lost_at_the_saw(stocked: Branch, beam: Part, plan: CuttingPlan) -> None:
    for bar in rows(plan):
        services.record_sawn(bar.pk, at=AT)
    line = plan.kits.get().lines.get()
    waste = -sum(LedgerEntry.objects.filter(kind="scrap").values_list("cents", flat=True))
    assert Balance.objects.get(part=beam).cents + line.cents + waste == 48_060
    assert line.cents == 3 * (16_020 * PIECE // (20 * FT))


def test_the_remainder_is_what_was_measured(stocked: Branch, plan: CuttingPlan) -> None:
    bar = rows(plan)[0]
    used = sum(bar.pieces.values_list("length_ticks", flat=True))
    with pytest.raises(InvalidValueError, match="cannot be"):
        services.record_sawn(bar.pk, at=AT, left_ticks=20 * FT - used + 1)
    services.record_sawn(bar.pk, at=AT, left_ticks=3 * FT)
    assert Offcut.objects.get().length_ticks == 3 * FT
    services.record_sawn(rows(plan)[1].pk, at=AT, left_ticks=FT)  # under 2 ft: scrap
    assert Offcut.objects.count() == 1
    assert stock_faults(stocked.pk) == []


def test_a_mis_cut_is_waste_and_planned_again(stocked: Branch, plan: CuttingPlan) -> None:
    bar = max(rows(plan), key=lambda row: row.pieces.count())
    bad = bar.pieces.order_by("position")[0]
    with pytest.raises(InvalidValueError, match="A mis-cut names a piece of this bar"):
        services.record_sawn(bar.pk, at=AT, mis_cut={bad.pk: " "})
    services.record_sawn(bar.pk, at=AT, mis_cut={bad.pk: "stop slipped"})
    bad.refresh_from_db()
    plan.refresh_from_db()
    assert (bad.status, bad.reason, plan.needs_replan) == ("mis_cut", "stop slipped", True)
    assert stock_faults(stocked.pk) == []
    services.replan_cuts(plan.pk, at=AT)
    plan.refresh_from_db()
    assert (plan.needs_replan, plan.revision) == (False, 2)
    planned = CutPiece.objects.filter(bar__plan=plan, status="planned").count()
    assert planned == 2  # one is sawn, one was lost
    for row in rows(plan):
        if row.status == "planned":
            services.record_sawn(row.pk, at=AT)
    assert plan.kits.get().lines.get().cut == 3
    plan.refresh_from_db()
    assert plan.status == "done"
    assert stock_faults(stocked.pk) == []


def test_a_piece_scrapped_after_the_last_bar_reopens_the_plan(
    stocked: Branch, plan: CuttingPlan, kit: Kit
) -> None:
    for bar in rows(plan):
        services.record_sawn(bar.pk, at=AT)
    piece = CutPiece.objects.order_by("pk")[0]
    services.record_scrapped(piece.pk, reason="fell off the saddle", at=AT)
    plan.refresh_from_db()
    assert (plan.status, plan.needs_replan) == ("frozen", True)
    assert kit.lines.get().cut == 2
    services.replan_cuts(plan.pk, at=AT)
    (fresh,) = [row for row in rows(plan) if row.status == "planned"]
    assert fresh.pieces.get().length_ticks == PIECE
    with pytest.raises(WrongStateError):
        services.record_scrapped(piece.pk, reason="again", at=AT)
    assert stock_faults(stocked.pk) == []


def test_a_long_mis_cut_is_kept_as_an_offcut(
    stocked: Branch, beam: Part, plan: CuttingPlan
) -> None:
    for bar in rows(plan):
        services.record_sawn(bar.pk, at=AT)
    worth = Balance.objects.get(part=beam).cents
    piece = CutPiece.objects.order_by("pk")[0]
    with pytest.raises(InvalidValueError, match="not longer than the piece"):
        services.record_mis_cut(piece.pk, reason="x", at=AT, actual_ticks=PIECE + 1)
    services.record_mis_cut(piece.pk, reason="read the tape wrong", at=AT, actual_ticks=7 * FT)
    kept = Offcut.objects.get(length_ticks=7 * FT)
    assert kept.on_hand == 1
    assert Balance.objects.get(part=beam).cents == worth + piece.cents * 7 * FT // PIECE
    assert stock_faults(stocked.pk) == []


def test_a_remeasured_piece_changes_only_what_is_not_sawn(
    stocked: Branch, plan: CuttingPlan, kit: Kit
) -> None:
    both = max(rows(plan), key=lambda row: row.pieces.count())
    services.record_sawn(both.pk, at=AT)
    sawn = list(CutPlanBar.objects.filter(status="sawn").values_list())
    line = kit.lines.get()
    with pytest.raises(PieceAlreadySawnError, match="3 pieces re-measured, 1 of them are not sawn"):
        services.remeasure(kit.pk, line.pk, 7 * FT, at=AT)
    fresh = services.remeasure(kit.pk, line.pk, 7 * FT, at=AT, count=1)
    line.refresh_from_db()
    assert (line.quantity, fresh.quantity, fresh.length_ticks) == (2, 1, 7 * FT)
    stale = next(row for row in rows(plan) if row.status == "planned")
    with pytest.raises(InputsChangedError, match="Piece B of this bar was re-measured"):
        services.record_sawn(stale.pk, at=AT)
    services.replan_cuts(plan.pk, at=AT)
    assert list(CutPlanBar.objects.filter(status="sawn").values_list()) == sawn
    (left,) = CutPiece.objects.filter(bar__plan=plan, status="planned")
    assert left.length_ticks == 7 * FT
    assert stock_faults(stocked.pk) == []


def test_bars_cut_alike_keep_their_tickets(branch: Branch, beam: Part) -> None:
    one = Delivery(beam.pk, 96_120, quantity=6, length_ticks=20 * FT)
    services.receive(branch.pk, [one], at=AT)
    kit = kit_of(branch, Need(beam.pk, 4, 10 * FT - 4, "A"), Need(beam.pk, 1, 12 * FT, "Z"))
    (plan,) = services.plan_cuts([kit.pk], at=AT)
    before = {row.pk: row.number for row in rows(plan)}
    last = kit.lines.get(mark="Z")
    services.remeasure(kit.pk, last.pk, 13 * FT, at=AT)
    with pytest.raises(InputsChangedError):
        services.start_sawing(plan.pk)
    services.replan_cuts(plan.pk, at=AT)
    after = {row.pk: row.number for row in rows(plan)}
    assert len(before) == len(after) == 3
    assert len(before.items() & after.items()) == 2
    services.start_sawing(plan.pk)
    assert stock_faults(branch.pk) == []


def test_a_replan_without_stock_waits_and_says_so(stocked: Branch, beam: Part) -> None:
    kit = kit_of(stocked, Need(beam.pk, 3, 11 * FT))
    (plan,) = services.plan_cuts([kit.pk], at=AT)
    bar = rows(plan)[0]
    services.record_sawn(bar.pk, at=AT, mis_cut={bar.pieces.get().pk: "wrong end"})
    services.replan_cuts(plan.pk, at=AT)
    plan.refresh_from_db()
    assert (plan.needs_replan, plan.problem["code"]) == (True, "insufficient_stock")
    version = plan.version
    services.replan_cuts(plan.pk, at=AT)
    plan.refresh_from_db()
    assert plan.version == version  # the same problem is not written twice
    services.receive(stocked.pk, [Delivery(beam.pk, 1, quantity=1, length_ticks=20 * FT)], at=AT)
    services.replan_cuts(plan.pk, at=AT)
    plan.refresh_from_db()
    assert (plan.needs_replan, plan.problem) == (False, {})


def test_remeasuring_a_reserved_kit_holds_the_right_bars(stocked: Branch, beam: Part) -> None:
    kit = kit_of(stocked, Need(beam.pk, 4, 9 * FT))
    services.reserve_kit(kit.pk, at=AT)
    line = kit.lines.get()
    assert StockLength.objects.get().reserved == 2
    before = written()
    with pytest.raises(InsufficientStockError):
        services.remeasure(kit.pk, line.pk, 11 * FT, at=AT)
    assert written() == before
    line.refresh_from_db()
    assert line.length_ticks == 9 * FT
    services.remeasure(kit.pk, line.pk, 6 * FT, at=AT)
    assert StockLength.objects.get().reserved == 2  # three of 6 ft in one bar, one in another
    assert stock_faults(stocked.pk) == []
    with pytest.raises(NotFoundError):
        services.remeasure(kit.pk, 99_999, FT, at=AT)


def test_the_mark_follows_from_the_nudge(kit: Kit, django_capture_on_commit_callbacks: Any) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        (plan,) = services.request_cuts([kit.pk])
    assert ("inventory.tasks.plan_cuts", {"plan_pk": plan.pk}) in queue.pending()
    queue.drain()
    plan.refresh_from_db()
    assert plan.status == "draft"


def test_sweeps_find_what_nudges_lost(kit: Kit, stocked: Branch) -> None:
    from inventory import tasks

    (plan,) = services.request_cuts([kit.pk])
    tasks.plan_due_cuts()
    plan.refresh_from_db()
    assert plan.status == "draft"
    bar = rows(plan)[0]
    services.record_sawn(bar.pk, at=AT, mis_cut={bar.pieces.order_by("pk")[0].pk: "wrong"})
    tasks.plan_due_cuts()
    plan.refresh_from_db()
    assert not plan.needs_replan
    assert stock_faults(stocked.pk) == []
