"""What crew plans and service plans have in common: claimed, watched, failed, discarded."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils import timezone

from contractor.api import events
from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.crews import locks, states
from contractor.crews.errors import OutdatedPlanError
from contractor.crews.models import Proposal
from contractor.errors import InvalidValueError

MOST_SECONDS = 120.0
MOST_ATTEMPTS = 3
PROGRESS_EVERY_S = 2.0
P = Proposal.Status
Plan = TypeVar("Plan", bound=Proposal)


def local_today(branch: Branch) -> date:
    """Return today's date where the branch is."""
    return timezone.localdate(timezone=ZoneInfo(branch.time_zone))


def require_horizon(today: date, first_day: date, last_day: date, most_days: int) -> None:
    """Refuse days in the past, backwards, or more than ``most_days``."""
    if not today <= first_day <= last_day or (last_day - first_day).days > most_days:
        raise InvalidValueError(
            f"A plan runs from today or later for at most {most_days} days.",
            remedy="Set first_day and last_day accordingly.",
            today=str(today),
        )


def require_seconds(seconds: float) -> None:
    if not 0 < seconds <= MOST_SECONDS:
        raise InvalidValueError(
            f"{seconds:g} s of computing is out of range.",
            remedy=f"Ask for up to {MOST_SECONDS:g} seconds.",
        )


@service
def claim(model: type[Plan], plan_pk: int, *, at: datetime) -> Plan | None:
    """Take a requested plan, or one whose worker died; None where there is nothing to do."""
    plan = locks.lock_proposal(model, plan_pk)
    lapsed = plan.status == P.COMPUTING and plan.claimed_until and plan.claimed_until < at
    if plan.status != P.REQUESTED and not lapsed:
        return None
    if lapsed and plan.attempts >= MOST_ATTEMPTS:
        states.move_plan(plan, P.FAILED)
        plan.failure, plan.claimed_until = "the worker died each time", None
        plan.save()
        events.record(f"{plan.noun}.failed", plan, branch=plan.branch)
        return None
    if plan.status == P.REQUESTED:
        states.move_plan(plan, P.COMPUTING)
    plan.attempts += 1
    plan.claimed_until = at + timedelta(seconds=plan.seconds * 2 + 60)
    plan.progress = {}
    plan.save()
    return plan


class Watch:
    """Writes the progress of a running plan into its row and sees whether it was discarded.

    At most one look and one write every other second, whatever the solver says how often.
    """

    def __init__(self, plan: Proposal, clock: Callable[[], float] = time.monotonic) -> None:
        self._rows = type(plan)._default_manager.filter(pk=plan.pk, status=P.COMPUTING)
        self._clock = clock
        self._next = clock()
        self._is_discarded = False

    def say(self, progress: dict[str, Any]) -> None:
        if self._is_due():
            self._is_discarded = not self._rows.update(progress=progress)

    def is_discarded(self) -> bool:
        if self._is_due():
            self._is_discarded = not self._rows.exists()
        return self._is_discarded

    def _is_due(self) -> bool:
        now = self._clock()
        if now < self._next:
            return False
        self._next = now + PROGRESS_EVERY_S
        return True


@service
def fail(model: type[Plan], plan_pk: int, *, why: str) -> None:
    plan = locks.lock_proposal(model, plan_pk)
    if plan.status == P.DISCARDED:
        return
    states.move_plan(plan, P.FAILED)
    plan.failure, plan.claimed_until = why[:400], None
    plan.save()
    events.record(f"{plan.noun}.failed", plan, branch=plan.branch)


@service
def propose(model: type[Plan], plan_pk: int, *, progress: dict[str, Any], **columns: Any) -> None:
    """Keep what was computed as a proposal; nothing where it was discarded meanwhile."""
    plan = locks.lock_proposal(model, plan_pk)
    if plan.status != P.COMPUTING:
        return
    states.move_plan(plan, P.PROPOSED)
    for name, value in columns.items():
        setattr(plan, name, value)
    plan.progress, plan.claimed_until = progress, None
    plan.save()
    events.record(f"{plan.noun}.proposed", plan, branch=plan.branch, cost=plan.cost)


@service
def discard(model: type[Plan], plan_pk: int, *, if_match: int | None = None) -> Plan:
    """Put a plan aside; a running solver stops at its next look."""
    plan = locks.lock_proposal(model, plan_pk)
    plan.expect_version(if_match)
    states.move_plan(plan, P.DISCARDED)
    plan.save()
    events.record(f"{plan.noun}.discarded", plan, branch=plan.branch)
    return plan


def lock_for_publishing(
    model: type[Plan], plan_pk: int, if_match: int | None
) -> tuple[Branch, Plan]:
    """Lock the branch, then the plan, and compare the version."""
    found = model._default_manager.filter(pk=plan_pk).values_list("branch_id", flat=True).first()
    branch = locks.lock_branch(found or 0)
    plan = locks.lock_proposal(model, plan_pk)
    plan.expect_version(if_match)
    return branch, plan


def put_in_force(plan: Proposal) -> None:
    """Publish a locked plan; the one before it is superseded."""
    states.move_plan(plan, P.PUBLISHED)
    model = type(plan)
    for old in model._default_manager.filter(branch=plan.branch, status=P.PUBLISHED).order_by("pk"):
        states.move_plan(old, P.SUPERSEDED)
        old.save()
    plan.save()


def require_same(plan: Proposal, hash_now: str) -> None:
    """Refuse a proposal whose instance is not what the rows say now."""
    if plan.status == P.PROPOSED and hash_now != plan.input_hash:
        raise OutdatedPlanError(
            "Jobs, crews, visits or calendars have changed since this plan was computed.",
            remedy="Ask for a new plan; it takes the changes into account.",
        )


def waiting(model: type[Plan], at: datetime) -> list[int]:
    """Return the plans that were asked for or that a dead worker left, oldest first."""
    rows = model._default_manager.filter(
        Q(status=P.REQUESTED) | Q(status=P.COMPUTING, claimed_until__lt=at)
    )
    return list(rows.order_by("pk").values_list("pk", flat=True))
