"""At the saw: start a plan, record what was sawn, mis-cut or scrapped, against its bar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from contractor.api.events import record
from contractor.api.transactions import service
from contractor.engine.units import format_length
from contractor.errors import InvalidValueError, NotFoundError, WrongStateError
from contractor.queue import nudge
from inventory import locks
from inventory.bar_posting import Split, post_bar, post_loss, split_bar
from inventory.cutlists import bar_place
from inventory.errors import InputsChangedError
from inventory.models import (
    CutPiece,
    CutPlanBar,
    CuttingPlan,
    Kit,
    KitLine,
)
from inventory.posting import Note
from inventory.states import move_plan
from inventory.stocking import check_bin

P = CutPiece.Status


@service
def start_sawing(plan_pk: int, *, if_match: int | None = None) -> CuttingPlan:
    """Freeze a draft: from now on only what is not sawn can change."""
    plan = locks.lock_plan(plan_pk)
    plan.expect_version(if_match)
    _refuse_stale(plan)
    move_plan(plan, CuttingPlan.Status.FROZEN)
    plan.save(update_fields=["status"])
    record("cutting_plan.frozen", plan, branch=plan.branch)
    return plan


@service
def record_sawn(
    bar_pk: int,
    *,
    at: datetime,
    left_ticks: int | None = None,
    bin_pk: int | None = None,
    mis_cut: Mapping[int, str] | None = None,
    if_match: int | None = None,
) -> CutPlanBar:
    """Record that a bar has been sawn; its steel leaves stock, a useful remainder comes back.

    ``left_ticks``: the remainder as measured (default: as planned). ``mis_cut``: piece pk ->
    reason for pieces that went wrong; they are waste and the plan is made again for them.
    """
    plan, bar, kits = _lock_bar(bar_pk)
    plan.expect_version(if_match)
    _freeze(plan, bar)
    check_bin(plan.branch_id, bin_pk)
    pieces = list(bar.pieces.select_related("kit_line").order_by("position"))
    bad = _check_mis_cut(pieces, mis_cut or {})
    _check_current(pieces)
    head = locks.lock_balances(plan.branch_id, [plan.part_id])[plan.part_id]
    key = bar_place(bar)
    place = locks.lock_places([key])[key]
    left = _check_left(plan, bar, pieces, left_ticks)
    split = split_bar(head, bar, pieces, bad, left, plan.min_offcut_ticks)
    note = Note(at, reference=f"cutting plan {plan.pk} bar {bar.number}")
    post_bar(plan, bar, head, place, split, note, bin_pk)
    _mark_pieces(pieces, bad, split)
    plan.sawn_cents += split.cents
    bar.status, bar.sawn_at, bar.left_ticks = CutPlanBar.Status.SAWN, at, left
    bar.is_kept = split.left > 0
    bar.save(update_fields=["status", "sawn_at", "left_ticks", "is_kept", "kept_offcut"])
    _save_after_saw(plan, bar, bool(bad))
    _touch(kits)
    return bar


@service
def record_mis_cut(
    piece_pk: int,
    *,
    reason: str,
    at: datetime,
    actual_ticks: int = 0,
    if_match: int | None = None,
) -> CutPiece:
    """A sawn piece turns out wrong. Long enough, it is kept as an offcut; else it is waste."""
    return _lose(piece_pk, P.MIS_CUT, reason, at, actual_ticks, if_match)


@service
def record_scrapped(
    piece_pk: int, *, reason: str, at: datetime, if_match: int | None = None
) -> CutPiece:
    """A sawn piece is no good for anything; the plan is made again for it."""
    return _lose(piece_pk, P.SCRAPPED, reason, at, 0, if_match)


def _lock_bar(bar_pk: int) -> tuple[CuttingPlan, CutPlanBar, list[Kit]]:
    """Lock the kits of the bar's pieces, then the plan, then read the bar."""
    plan_pk = CutPlanBar.objects.filter(pk=bar_pk).values_list("plan", flat=True).first()
    if plan_pk is None:
        raise NotFoundError(f"There is no bar {bar_pk} in any cutting plan.")
    kit_pks = CuttingPlan.kits.through.objects.filter(cuttingplan=plan_pk)
    kits = locks.lock_kits(sorted(kit_pks.values_list("kit", flat=True)))
    plan = locks.lock_plan(plan_pk)
    bar = CutPlanBar.objects.filter(pk=bar_pk).first()
    if bar is None:
        raise NotFoundError("The plan was made again without that bar.")
    return plan, bar, kits


def _freeze(plan: CuttingPlan, bar: CutPlanBar) -> None:
    """Freeze a draft with its first cut; refuse what cannot be sawn (any more)."""
    if bar.status == CutPlanBar.Status.SAWN:
        raise WrongStateError("That bar has been sawn already.", remedy="Go to the next bar.")
    if plan.status == CuttingPlan.Status.DRAFT:
        move_plan(plan, CuttingPlan.Status.FROZEN)
    if plan.status != CuttingPlan.Status.FROZEN:
        raise WrongStateError(
            f"This plan is {plan.status}.", remedy="Plan again.", status_now=plan.status
        )


def _refuse_stale(plan: CuttingPlan) -> None:
    if plan.needs_replan:
        raise InputsChangedError(
            "A piece of this plan was re-measured or lost; a new version is being made.",
            remedy="Wait for it.",
        )


def _check_mis_cut(pieces: Sequence[CutPiece], mis_cut: Mapping[int, str]) -> dict[int, str]:
    known = {piece.pk for piece in pieces}
    for pk, reason in mis_cut.items():
        if pk not in known or not reason.strip():
            raise InvalidValueError(
                "A mis-cut names a piece of this bar and a reason.", remedy="Give both."
            )
    return {pk: reason.strip() for pk, reason in mis_cut.items()}


def _check_current(pieces: Sequence[CutPiece]) -> None:
    """Refuse a bar whose pieces are not wanted any more as they stand on the ticket."""
    for piece in pieces:
        line = piece.kit_line
        if piece.length_ticks != line.length_ticks or line.to_cut < 1:
            raise InputsChangedError(
                f"Piece {line.mark or piece.position} of this bar was re-measured or dropped.",
                remedy="Wait for the new version of the plan, then saw by the new ticket.",
            )


def _check_left(
    plan: CuttingPlan, bar: CutPlanBar, pieces: Sequence[CutPiece], measured: int | None
) -> int:
    """Return the remainder, refusing one longer than the bar can leave."""
    if measured is None:
        return bar.left_ticks
    most = bar.length_ticks - plan.end_trim_ticks - sum(piece.length_ticks for piece in pieces)
    if not 0 <= measured <= most:
        raise InvalidValueError(
            f"A remainder of {format_length(measured)} cannot be: at most {format_length(most)} "
            "can be left.",
            remedy="Measure again.",
            pointer="#/left",
        )
    return measured


def _mark_pieces(pieces: Sequence[CutPiece], bad: Mapping[int, str], split: Split) -> None:
    lines: dict[int, KitLine] = {}
    for piece in pieces:
        line = lines.setdefault(piece.kit_line_id, piece.kit_line)
        if piece.pk in bad:
            piece.status, piece.reason = P.MIS_CUT, bad[piece.pk]
        else:
            piece.status, piece.cents = P.SAWN, split.piece_cents[piece.pk]
            line.cut += 1
            line.cents += piece.cents
    for piece in pieces:
        row = CutPiece.objects.filter(pk=piece.pk)
        row.update(status=piece.status, reason=piece.reason, cents=piece.cents)
    for line in lines.values():
        KitLine.objects.filter(pk=line.pk).update(cut=line.cut, cents=line.cents)


def _save_after_saw(plan: CuttingPlan, bar: CutPlanBar, has_losses: bool) -> None:
    if has_losses:
        plan.needs_replan = True
        nudge("inventory.tasks.replan_cuts", plan_pk=plan.pk)
    unsawn = plan.bars.filter(status=CutPlanBar.Status.PLANNED).exists()
    if not unsawn and not plan.needs_replan:
        move_plan(plan, CuttingPlan.Status.DONE)
    plan.save(update_fields=["status", "needs_replan", "sawn_cents"])
    record("cutting_plan.bar_sawn", plan, branch=plan.branch, bar=bar.number)


def _touch(kits: Sequence[Kit]) -> None:
    """Move the versions of kits whose lines changed."""
    for kit in kits:
        kit.save(update_fields=["status"])


def _lose(
    piece_pk: int, status: str, reason: str, at: datetime, actual: int, if_match: int | None
) -> CutPiece:
    if not reason.strip():
        raise InvalidValueError("A lost piece needs a reason.", remedy="Say why.")
    bar_pk = CutPiece.objects.filter(pk=piece_pk).values_list("bar", flat=True).first()
    if bar_pk is None:
        raise NotFoundError(f"There is no piece {piece_pk}.")
    plan, bar, kits = _lock_bar(bar_pk)
    plan.expect_version(if_match)
    piece = CutPiece.objects.select_related("kit_line__kit").get(pk=piece_pk)
    _refuse_gone(piece)
    if not 0 <= actual <= piece.length_ticks:
        raise InvalidValueError(
            "What is left of a piece is not longer than the piece.", remedy="Measure again."
        )
    head = locks.lock_balances(plan.branch_id, [plan.part_id])[plan.part_id]
    key = bar_place(bar)
    place = locks.lock_places([key])[key]
    note = Note(at, reason.strip(), f"cutting plan {plan.pk} bar {bar.number}")
    post_loss(plan, head, place, piece, actual, note)
    _take_from_kit(piece)
    piece.status, piece.reason = status, reason.strip()
    piece.save(update_fields=["status", "reason"])
    if plan.status == CuttingPlan.Status.DONE:
        move_plan(plan, CuttingPlan.Status.FROZEN)
    _save_after_saw(plan, bar, True)
    _touch(kits)
    return piece


def _take_from_kit(piece: CutPiece) -> None:
    line = piece.kit_line
    line.cut -= 1
    line.pulled = min(line.pulled, line.cut)
    line.cents -= piece.cents
    line.save(update_fields=["cut", "pulled", "cents"])


def _refuse_gone(piece: CutPiece) -> None:
    kit = piece.kit_line.kit
    gone = (Kit.Status.STAGED, Kit.Status.LOADED, Kit.Status.USED, Kit.Status.RETURNED)
    if piece.status != P.SAWN or kit.status in gone:
        raise WrongStateError(
            f"This piece is {piece.status} and its kit {kit.status}.",
            remedy="Put a staged kit back first; a loaded one is returned.",
        )
