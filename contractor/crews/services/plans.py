"""Crew plans: asked for, computed outside any transaction, checked, proposed, published."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q

from contractor.api import events
from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.crews import locks, states
from contractor.crews.errors import FaultyPlanError, OutdatedPlanError
from contractor.crews.models import CrewPlan
from contractor.crews.services import placing
from contractor.crews.services.instance import build_instance, input_hash
from contractor.engine.errors import InputError
from contractor.engine.rostering.check import check_plan
from contractor.engine.rostering.plan_document import plan_to_document
from contractor.engine.rostering.reading import read_instance
from contractor.errors import InvalidValueError
from contractor.queue import nudge

MOST_SECONDS = 120.0
MOST_DAYS = 186
MOST_ATTEMPTS = 3
P = CrewPlan.Status


@service
def request_plan(
    branch_pk: int, *, today: date, first_day: date, last_day: date, seconds: float, seed: int
) -> CrewPlan:
    """Ask for a plan of one branch; a worker computes it."""
    branch = locks.lock_branch(branch_pk)
    if not today <= first_day <= last_day or (last_day - first_day).days > MOST_DAYS:
        raise InvalidValueError(
            f"A plan runs from today or later for at most {MOST_DAYS} days.",
            remedy="Set first_day and last_day accordingly.",
            today=str(today),
        )
    if not 0 < seconds <= MOST_SECONDS:
        raise InvalidValueError(
            f"{seconds:g} s of computing is out of range.",
            remedy=f"Ask for up to {MOST_SECONDS:g} seconds.",
        )
    plan = CrewPlan.objects.create(
        branch=branch,
        today=today,
        first_day=first_day,
        last_day=last_day,
        seconds=seconds,
        seed=seed,
    )
    events.record("crew_plan.requested", plan, branch=branch)
    nudge("contractor.crews.tasks.compute_plan", plan_pk=plan.pk)
    return plan


def compute_plan(plan_pk: int, *, at: datetime) -> bool:
    """Compute a requested plan and keep it as a proposal; False where another worker has it."""
    plan = _claim(plan_pk, at=at)
    if plan is None:
        return False
    document, left_out = build_instance(
        plan.branch, today=plan.today, first_day=plan.first_day, last_day=plan.last_day
    )
    try:
        answer = solve(document, seconds=plan.seconds, seed=plan.seed)
        require_faultless(document, answer)
    except (InputError, FaultyPlanError) as error:
        _fail(plan_pk, why=str(error))
        return True
    _propose(plan_pk, document=document, answer=answer, left_out=left_out)
    return True


def solve(document: dict[str, Any], *, seconds: float, seed: int) -> dict[str, Any]:
    """Return the engine's ``install-plan/1`` for an ``install-sched/1`` document."""
    from contractor.engine.rostering.optimize import plan

    answer = plan(read_instance(document), seconds=seconds, seed=seed)
    written = plan_to_document(answer)
    return {**written, "rule": answer.rule, "rule_cost": answer.rule_cost}


def require_faultless(document: dict[str, Any], answer: dict[str, Any]) -> None:
    """Raise FaultyPlanError unless the independent checker finds nothing."""
    faults = check_plan(document, answer)
    if faults:
        raise FaultyPlanError(
            "; ".join(f"{fault.code}: {fault.text}" for fault in faults[:5]),
            remedy="The plan was not stored. Report this with the plan's number.",
        )


@service
def _claim(plan_pk: int, *, at: datetime) -> CrewPlan | None:
    plan = locks.lock_plan(plan_pk)
    lapsed = plan.status == P.COMPUTING and plan.claimed_until and plan.claimed_until < at
    if plan.status != P.REQUESTED and not lapsed:
        return None
    if plan.attempts >= MOST_ATTEMPTS:
        states.move_plan(plan, P.COMPUTING if plan.status == P.REQUESTED else P.FAILED)
        plan.failure = "the worker died each time"
        plan.save()
        return None
    plan.status = P.COMPUTING
    plan.attempts += 1
    plan.claimed_until = at + timedelta(seconds=plan.seconds * 2 + 60)
    plan.save()
    return plan


@service
def _fail(plan_pk: int, *, why: str) -> None:
    plan = locks.lock_plan(plan_pk)
    states.move_plan(plan, P.FAILED)
    plan.failure, plan.claimed_until = why[:400], None
    plan.save()
    events.record("crew_plan.failed", plan, branch=plan.branch)


@service
def _propose(
    plan_pk: int,
    *,
    document: dict[str, Any],
    answer: dict[str, Any],
    left_out: list[dict[str, str]],
) -> None:
    plan = locks.lock_plan(plan_pk)
    states.move_plan(plan, P.PROPOSED)
    plan.instance, plan.plan = document, answer
    plan.input_hash, plan.claimed_until = input_hash(document), None
    plan.cost, plan.bound = answer["cost"], answer["bound"]
    plan.is_proven = answer["proven"]
    plan.report = {"left_out": left_out}
    plan.save()
    events.record("crew_plan.proposed", plan, branch=plan.branch, cost=plan.cost)


@service
def publish_plan(plan_pk: int, *, if_match: int | None = None) -> CrewPlan:
    """Make the proposal the branch's plan: visits appear, move or are cancelled.

    Refused with OutdatedPlanError when jobs, crews or calendars changed since it was computed.
    """
    found = CrewPlan.objects.filter(pk=plan_pk).values_list("branch_id", flat=True).first()
    branch = locks.lock_branch(found or 0)
    plan = locks.lock_plan(plan_pk)
    plan.expect_version(if_match)
    _require_fresh(plan, branch)
    states.move_plan(plan, P.PUBLISHED)
    for old in CrewPlan.objects.filter(branch=branch, status=P.PUBLISHED).order_by("pk"):
        states.move_plan(old, P.SUPERSEDED)
        old.save()
    plan.save()
    changes = placing.place_visits(plan, branch)
    plan.report = {**plan.report, "changes": changes}
    plan.save()
    events.record("crew_plan.published", plan, branch=branch, changes=changes)
    return plan


def _require_fresh(plan: CrewPlan, branch: Branch) -> None:
    if plan.status != P.PROPOSED:
        return
    document, _ = build_instance(
        branch, today=plan.today, first_day=plan.first_day, last_day=plan.last_day
    )
    if input_hash(document) != plan.input_hash:
        raise OutdatedPlanError(
            "Jobs, crews or calendars have changed since this plan was computed.",
            remedy="Ask for a new plan; it takes the changes into account.",
        )


@service
def discard_plan(plan_pk: int, *, if_match: int | None = None) -> CrewPlan:
    plan = locks.lock_plan(plan_pk)
    plan.expect_version(if_match)
    states.move_plan(plan, P.DISCARDED)
    plan.save()
    events.record("crew_plan.discarded", plan, branch=plan.branch)
    return plan


def compute_requested(at: datetime) -> int:
    """Compute what was asked for and what a dead worker left; return how many."""
    waiting = CrewPlan.objects.filter(
        Q(status=P.REQUESTED) | Q(status=P.COMPUTING, claimed_until__lt=at)
    )
    return sum(compute_plan(pk, at=at) for pk in list(waiting.values_list("pk", flat=True)))
