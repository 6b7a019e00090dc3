"""Hold stock for a kit or for somebody, all or nothing; let it go again."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime

from django.db import transaction

from contractor.api.events import new_event, record
from contractor.api.inserting import insertion, take_key
from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.errors import WrongStateError
from inventory import locks
from inventory.allocation import Hold, check_pieces_fit, choose
from inventory.amounts import (
    Need,
    check_length,
    check_quantity,
    day_at,
    find_branch,
    find_parts,
)
from inventory.errors import BadQuantityError, InsufficientStockError, KitInPlanError
from inventory.glance import glance
from inventory.holding import LostRaceError, hold, let_go
from inventory.models import CuttingPlan, Kit, Part, Reservation
from inventory.promising import Rank, open_lines, shortage_list
from inventory.states import move_kit, move_reservation

LOOKS = 5
LIVE_PLANS = (CuttingPlan.Status.DRAFT, CuttingPlan.Status.FROZEN)


def reserve(
    branch_pk: int,
    needs: Sequence[Need],
    *,
    at: datetime,
    reference: str = "",
    priority: int = 1,
    expires_at: datetime | None = None,
) -> Reservation:
    """Hold all of ``needs`` or nothing.

    Raises InsufficientStockError with the shortage list and its dates, PieceTooLongError,
    BadQuantityError, UnknownPartError. A race that is lost is run again on what is left.
    """
    for _ in range(LOOKS):
        with suppress(LostRaceError):
            return _reserve(branch_pk, needs, at, reference, priority, expires_at)
    raise _too_many_races()


@service
def _reserve(
    branch_pk: int,
    needs: Sequence[Need],
    at: datetime,
    reference: str,
    priority: int,
    expires_at: datetime | None,
) -> Reservation:
    """One attempt; raises LostRaceError, which undoes it. The stock comes last, see ``hold``."""
    seen = glance(branch_pk, needs, at)
    if seen is not None:
        branch, key, holds = seen.branch, seen.key, seen.holds
    else:
        branch = find_branch(branch_pk)
        parts = check_needs(branch, needs)
        holds = _choose(branch, needs, parts, at, Rank(priority))
        key = take_key(Reservation)
    reservation = Reservation(
        pk=key, branch_id=branch_pk, reference=reference, priority=priority, expires_at=expires_at
    )
    event = new_event("reservation.held", reservation, branch=branch, reference=reference)
    hold(reservation, holds, first=[insertion(reservation), insertion(event)])
    return reservation


@service
def reserve_kit(
    kit_pk: int,
    *,
    at: datetime,
    expires_at: datetime | None = None,
    if_match: int | None = None,
) -> Kit:
    """Hold everything the kit needs, or nothing. Reserving twice is WrongStateError.

    Pieces that a cutting plan already covers are held by the plan.
    """
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    hold_kit(kit, at, expires_at)
    return kit


@service
def release(reservation_pk: int, *, if_match: int | None = None) -> Reservation:
    """Let a hold go. A kit's hold goes with its kit; it becomes open again."""
    return _release(reservation_pk, Reservation.Status.RELEASED, if_match)


@service
def release_kit(kit_pk: int, *, if_match: int | None = None) -> Kit:
    """Let go what the kit holds; it is open again."""
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    refuse_if_pulled(kit)
    release_held(kit, Reservation.Status.RELEASED)
    return kit


@service
def expire(reservation_pk: int, *, at: datetime) -> bool:
    """Let a hold go whose time has come; return whether it did. Run twice, it does nothing.

    A kit that is being pulled, or in a cutting plan, keeps what it holds.
    """
    kit_pk = _kit_of(reservation_pk)
    kit = locks.lock_kit(kit_pk) if kit_pk is not None else None
    reservation = locks.lock_reservation(reservation_pk)
    due = reservation.expires_at is not None and reservation.expires_at <= at
    if reservation.status != Reservation.Status.HELD or not due:
        return False
    if kit is not None and (kit.status != Kit.Status.RESERVED or in_live_plan(kit)):
        return False
    _end(reservation, kit, Reservation.Status.EXPIRED)
    return True


def check_needs(branch: Branch, needs: Sequence[Need]) -> dict[int, Part]:
    """Refuse what no warehouse can read; return the parts by pk."""
    if not needs:
        raise BadQuantityError("Nothing is asked for.", remedy="Give at least one line.")
    parts = find_parts(branch, [need.part_pk for need in needs])
    for number, need in enumerate(needs):
        check_quantity(need.quantity, f"#/lines/{number}/quantity")
        check_length(parts[need.part_pk], need.length_ticks, f"#/lines/{number}/length")
    check_pieces_fit(branch.pk, needs, parts)
    return parts


def hold_kit(kit: Kit, at: datetime, expires_at: datetime | None) -> None:
    """Hold a locked, open kit's needs."""
    move_kit(kit, Kit.Status.RESERVED)
    needs, parts = kit_needs(kit)
    check_pieces_fit(kit.branch_id, needs, parts)
    reservation = Reservation.objects.create(
        branch=kit.branch,
        kit=kit,
        reference=kit.reference,
        priority=kit.priority,
        expires_at=expires_at,
    )
    rank = Rank(kit.priority, kit.needed_on, kit.pk)
    hold_needs(reservation, kit.branch, needs, parts, at, rank)
    kit.save(update_fields=["status"])
    record("kit.reserved", kit, branch=kit.branch, reservation=reservation.pk)


def kit_needs(kit: Kit) -> tuple[list[Need], dict[int, Part]]:
    """Return what the kit still has to find, and the parts by pk."""
    needs: list[Need] = []
    parts: dict[int, Part] = {}
    for line, count in open_lines(kit.lines.select_related("part").order_by("pk")):
        needs.append(Need(line.part_id, count, line.length_ticks, line.mark, line.pk))
        parts[line.part_id] = line.part
    return needs, parts


def hold_needs(
    reservation: Reservation,
    branch: Branch,
    needs: Sequence[Need],
    parts: dict[int, Part],
    at: datetime,
    rank: Rank,
) -> None:
    """Choose places and hold them; a race that is lost is run again on what is left then."""
    for _ in range(LOOKS):
        holds = _choose(branch, needs, parts, at, rank)
        if not holds:
            return
        with suppress(LostRaceError), transaction.atomic():
            hold(reservation, holds)
            return
    raise _too_many_races()


def _choose(
    branch: Branch, needs: Sequence[Need], parts: dict[int, Part], at: datetime, rank: Rank
) -> list[Hold]:
    """Return holds for all of ``needs``; raises InsufficientStockError."""
    on = day_at(branch, at)
    holds, short = choose(branch, needs, parts, on)
    if short:
        raise _insufficient(shortage_list(branch, short, parts, on=on, rank=rank))
    return holds


def _too_many_races() -> InsufficientStockError:
    return InsufficientStockError(
        "Others took the same stock at the same moment.", remedy="Try again.", shortages=[]
    )


def _insufficient(shortages: list[dict[str, object]]) -> InsufficientStockError:
    named = ", ".join(f"{row['short']} of {row['part']}" for row in shortages)
    return InsufficientStockError(
        f"Not enough stock: short {named}.",
        remedy="Wait for the expected date, order, take over another hold, or substitute.",
        shortages=shortages,
    )


def _release(pk: int, status: str, if_match: int | None) -> Reservation:
    kit_pk = _kit_of(pk)
    kit = locks.lock_kit(kit_pk) if kit_pk is not None else None
    reservation = locks.lock_reservation(pk)
    reservation.expect_version(if_match)
    if kit is not None:
        refuse_if_pulled(kit)
        refuse_if_planned(kit)
    _end(reservation, kit, status)
    return reservation


def _kit_of(reservation_pk: int) -> int | None:
    """Return the kit, read before the lock: a hold never changes its kit."""
    return Reservation.objects.filter(pk=reservation_pk).values_list("kit", flat=True).first()


def release_held(kit: Kit, status: str) -> None:
    """Let go the held reservation of a locked kit that is in no live plan."""
    refuse_if_planned(kit)
    for reservation in locks.lock_holds_of([kit]):
        _end(reservation, kit, status)
        return
    move_kit(kit, Kit.Status.OPEN)
    kit.save(update_fields=["status"])


def refuse_if_pulled(kit: Kit) -> None:
    """Refuse to let a kit's hold go while its parts are being carried about."""
    if kit.status in (Kit.Status.PULLING, Kit.Status.STAGED):
        raise WrongStateError(
            f"Kit {kit.reference} is {kit.status}.",
            remedy="Put it back first; that releases it.",
            status_now=kit.status,
        )


def refuse_if_planned(kit: Kit) -> None:
    if in_live_plan(kit):
        raise KitInPlanError(
            f"Kit {kit.reference} has pieces in a cutting plan.",
            remedy="Cancel the plan (before sawing starts), then release the kit.",
        )


def in_live_plan(kit: Kit) -> bool:
    return kit.cutting_plans.filter(status__in=LIVE_PLANS).exists()


def _end(reservation: Reservation, kit: Kit | None, status: str) -> None:
    move_reservation(reservation, status)
    if kit is not None:
        move_kit(kit, Kit.Status.OPEN)
        kit.save(update_fields=["status"])
        record("kit.released", kit, branch=kit.branch, reservation=reservation.pk)
    let_go(reservation.lines.order_by("pk"))
    reservation.save(update_fields=["status"])
    record(f"reservation.{status}", reservation, branch=reservation.branch)


def reserve_if_open(kit_pk: int, *, at: datetime) -> None:
    """Reserve a kit that is still open; run twice, or with too little stock, it does nothing."""
    if Kit.objects.filter(pk=kit_pk, status=Kit.Status.OPEN).exists():
        with suppress(InsufficientStockError, WrongStateError):
            reserve_kit(kit_pk, at=at)
