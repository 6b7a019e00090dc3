"""Make kits; pull, short, substitute, stage, put back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from contractor.api.events import record
from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.errors import InvalidValueError, NotFoundError, WrongStateError
from inventory import locks
from inventory.amounts import Need, check_quantity, find_branch
from inventory.errors import KitNotCompleteError, MoreThanWantedError, WrongKindError
from inventory.holding import give_back
from inventory.models import Kit, KitLine, Reservation
from inventory.promising import Rank
from inventory.services.reserving import (
    check_needs,
    hold_needs,
    refuse_if_planned,
    release_held,
)
from inventory.states import move_kit

MOST_LINES = 500


@service
def create_kit(
    branch_pk: int,
    reference: str,
    needs: Sequence[Need],
    *,
    priority: int = 1,
    needed_on: date | None = None,
) -> Kit:
    """Make an open kit. A piece longer than any bar is refused right here."""
    branch = find_branch(branch_pk)
    return open_kit(branch, reference, needs, priority, needed_on)


def open_kit(
    branch: Branch,
    reference: str,
    needs: Sequence[Need],
    priority: int,
    needed_on: date | None,
) -> Kit:
    """Make an open kit inside the caller's transaction."""
    check_needs(branch, needs)
    if not reference.strip() or len(needs) > MOST_LINES or not 1 <= priority <= 4:
        raise InvalidValueError(
            "A kit has a reference, at most 500 lines and a priority of 1 to 4.",
            remedy="Give what is missing.",
        )
    kit = Kit.objects.create(
        branch=branch, reference=reference.strip(), priority=priority, needed_on=needed_on
    )
    KitLine.objects.bulk_create(
        KitLine(
            kit=kit,
            part_id=need.part_pk,
            quantity=need.quantity,
            length_ticks=need.length_ticks,
            mark=need.mark,
        )
        for need in needs
    )
    record("kit.opened", kit, branch=branch, lines=len(needs))
    return kit


@service
def cancel_kit(kit_pk: int, *, if_match: int | None = None) -> Kit:
    """Drop a kit; what it holds is released first."""
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    drop_kit(kit)
    return kit


def drop_kit(kit: Kit) -> None:
    """Cancel a locked kit inside the caller's transaction."""
    if kit.status == Kit.Status.RESERVED:
        release_held(kit, Reservation.Status.RELEASED)
    if kit.lines.filter(cut__gt=0).exists():
        raise WrongStateError(
            f"Kit {kit.reference} has sawn pieces.",
            remedy="Scrap or keep its pieces at the saw first; they belong to this kit.",
            status_now=kit.status,
        )
    move_kit(kit, Kit.Status.CANCELLED)
    kit.save(update_fields=["status"])
    record("kit.cancelled", kit, branch=kit.branch)


@service
def start_pulling(kit_pk: int, *, if_match: int | None = None) -> Kit:
    """The pull sheet goes out; from now on the hold does not expire."""
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    move_kit(kit, Kit.Status.PULLING)
    for reservation in locks.lock_holds_of([kit]):
        reservation.expires_at = None
        reservation.save(update_fields=["expires_at"])
    kit.save(update_fields=["status"])
    record("kit.pulling", kit, branch=kit.branch)
    return kit


@service
def pull(kit_pk: int, line_pk: int, quantity: int, *, if_match: int | None = None) -> Kit:
    """Put ``quantity`` more of a line into the kit. A piece must have been sawn before."""
    kit = _pulling(kit_pk, if_match)
    line = _line_of(kit, line_pk)
    check_quantity(quantity, "#/quantity")
    room = (line.cut if line.part.is_bar else line.quantity - line.short) - line.pulled
    if quantity > room:
        what = "sawn and waiting" if line.part.is_bar else "wanted"
        raise MoreThanWantedError(
            f"{quantity} of {line.part.code} pulled, {room} {what}.",
            remedy="Count again; what is not in the kit's list stays on the shelf.",
        )
    line.pulled += quantity
    line.save(update_fields=["pulled"])
    kit.save(update_fields=["status"])
    return kit


@service
def short(
    kit_pk: int, line_pk: int, quantity: int, *, reason: str, if_match: int | None = None
) -> Kit:
    """Record that ``quantity`` of a line will not come, and why; its hold is given back."""
    kit = _pulling(kit_pk, if_match)
    line = _line_of(kit, line_pk)
    _mark_short(kit, line, quantity, reason)
    kit.save(update_fields=["status"])
    record("kit.short", kit, branch=kit.branch, part=line.part_id, quantity=quantity)
    return kit


@service
def substitute(
    kit_pk: int,
    line_pk: int,
    need: Need,
    *,
    reason: str,
    at: datetime,
    if_match: int | None = None,
) -> Kit:
    """Take ``need.quantity`` of another part instead, and why. It is held at once or refused.

    Units only: another bar means another cutting plan, so put the kit back for that.
    """
    kit = _pulling(kit_pk, if_match)
    line = _line_of(kit, line_pk)
    parts = check_needs(kit.branch, [need])
    if line.part.is_bar or parts[need.part_pk].is_bar:
        raise WrongKindError(
            "Pieces from bars are not substituted while pulling.",
            remedy="Put the kit back and change its cutting plan.",
        )
    _mark_short(kit, line, need.quantity, reason)
    added = KitLine.objects.create(
        kit=kit,
        part_id=need.part_pk,
        quantity=need.quantity,
        mark=line.mark,
        reason=reason,
        substitutes=line,
    )
    held = locks.lock_holds_of([kit])
    asked = [Need(need.part_pk, need.quantity, 0, line.mark, added.pk)]
    hold_needs(held[0], kit.branch, asked, parts, at, Rank(kit.priority, kit.needed_on, kit.pk))
    kit.save(update_fields=["status"])
    record("kit.substituted", kit, branch=kit.branch, part=line.part_id, by=need.part_pk)
    return kit


@service
def stage(kit_pk: int, *, if_match: int | None = None) -> Kit:
    """Everything is together. Refused with the list of what is neither pulled nor short."""
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    missing = [
        {"line": line.pk, "part": line.part.code, "mark": line.mark, "missing": line.wanted}
        for line in kit.lines.select_related("part").order_by("pk")
        if line.wanted
    ]
    if missing and kit.status == Kit.Status.PULLING:
        raise KitNotCompleteError(
            f"{len(missing)} lines of kit {kit.reference} are not complete.",
            remedy="Pull them, or record them short with a reason.",
            missing=missing,
        )
    move_kit(kit, Kit.Status.STAGED)
    kit.save(update_fields=["status"])
    record("kit.staged", kit, branch=kit.branch)
    return kit


@service
def put_back(kit_pk: int, *, if_match: int | None = None) -> Kit:
    """Undo a pull: parts go back to their bins, the hold is released, the kit is open.

    Sawn pieces stay the kit's own. Shorts and substitutes are kept as they were recorded.
    """
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    if kit.status not in (Kit.Status.PULLING, Kit.Status.STAGED):
        raise WrongStateError(
            f"Kit {kit.reference} is {kit.status}; nothing of it has been pulled.",
            remedy="A reserved kit is released, a loaded one is returned.",
            status_now=kit.status,
        )
    refuse_if_planned(kit)
    for line in kit.lines.filter(pulled__gt=0).order_by("pk"):
        line.pulled = 0
        line.save(update_fields=["pulled"])
    release_held(kit, Reservation.Status.RELEASED)
    return kit


def _pulling(kit_pk: int, if_match: int | None) -> Kit:
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    if kit.status != Kit.Status.PULLING:
        raise WrongStateError(
            f"Kit {kit.reference} is {kit.status}, not being pulled.",
            remedy="Start pulling it first.",
            status_now=kit.status,
        )
    return kit


def _line_of(kit: Kit, line_pk: int) -> KitLine:
    line = kit.lines.select_related("part").filter(pk=line_pk).first()
    if line is None:
        raise NotFoundError(f"Kit {kit.reference} has no line {line_pk}.")
    return line


def _mark_short(kit: Kit, line: KitLine, quantity: int, reason: str) -> None:
    check_quantity(quantity, "#/quantity")
    if not reason.strip():
        raise InvalidValueError("A short needs a reason.", remedy="Say why.", pointer="#/reason")
    open_now = line.to_cut if line.part.is_bar else line.wanted
    if quantity > open_now:
        raise MoreThanWantedError(
            f"{quantity} of {line.part.code} short, {open_now} still open.",
            remedy="Count again.",
        )
    if line.part.is_bar:
        refuse_if_planned(kit)
    line.short += quantity
    line.reason = reason.strip()
    line.save(update_fields=["short", "reason"])
    held = locks.lock_holds_of([kit])
    if held and not line.part.is_bar:
        give_back(held[0].lines.filter(kit_line=line).order_by("-pk"), quantity)
