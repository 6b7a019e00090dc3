"""Crew plans: asked for, computed outside any transaction, checked, proposed, published."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from contractor.api import events
from contractor.api.transactions import service
from contractor.crews import locks
from contractor.crews.errors import FaultyPlanError, OutdatedPlanError
from contractor.crews.models import CrewPlan
from contractor.crews.services import flow, placing, replanning
from contractor.crews.services.instance import Built, build_instance, input_hash
from contractor.crews.services.travel import with_drives
from contractor.engine.errors import InputError
from contractor.engine.rostering.check import check_plan
from contractor.queue import nudge

MOST_DAYS = 186
P = CrewPlan.Status


@service
def request_plan(
    branch_pk: int,
    *,
    today: date,
    first_day: date,
    last_day: date,
    seconds: float,
    seed: int,
    mode: str = CrewPlan.Mode.PENALTY,
    cause: str = "",
) -> CrewPlan:
    """Ask for a plan of one branch; a worker computes it.

    Where visits are open already, the plan brings them in line with what happened.
    """
    branch = locks.lock_branch(branch_pk)
    flow.require_horizon(today, first_day, last_day, MOST_DAYS)
    flow.require_seconds(seconds)
    plan = CrewPlan.objects.create(
        branch=branch,
        today=today,
        first_day=first_day,
        last_day=last_day,
        seconds=seconds,
        seed=seed,
        mode=mode,
        cause=cause,
    )
    events.record("crew_plan.requested", plan, branch=branch, mode=mode)
    nudge("contractor.crews.tasks.compute_plan", plan_pk=plan.pk)
    return plan


def compute_plan(plan_pk: int, *, at: datetime) -> bool:
    """Compute a requested plan and keep it as a proposal; False where another worker has it."""
    plan = flow.claim(CrewPlan, plan_pk, at=at)
    if plan is None:
        return False
    built = _build(plan)
    try:
        document, source = with_drives(built.document, plan.branch)
        solved = replanning.solve(plan, document, built, flow.Watch(plan))
        require_faultless(document, solved.answer)
    except (InputError, FaultyPlanError) as error:
        flow.fail(CrewPlan, plan_pk, why=str(error))
        return True
    answer = solved.answer
    flow.propose(
        CrewPlan,
        plan_pk,
        progress=solved.progress,
        instance=document,
        plan=answer,
        input_hash=input_hash(document),
        cost=answer["cost"],
        bound=answer["bound"],
        is_proven=answer["proven"],
        report={**solved.report, **_circumstances(plan, built), "travel": source},
    )
    return True


def _build(plan: CrewPlan) -> Built:
    return build_instance(
        plan.branch, today=plan.today, first_day=plan.first_day, last_day=plan.last_day
    )


def _circumstances(plan: CrewPlan, built: Built) -> dict[str, Any]:
    """What the plan leaves alone: jobs it cannot place yet, visits that stand, late records."""
    stands = [
        {"visit": one.visit.pk, "job": one.visit.job_id, "why": one.why}
        for one in built.visits.standing
    ]
    overdue = [
        one.visit.pk
        for one in built.visits.standing
        if one.why == "started" and one.visit.last_date < plan.today
    ]
    lapsed = [{"visit": visit.pk, "job": visit.job_id} for visit in built.visits.lapsed]
    return {
        "left_out": built.left_out,
        "standing": stands,
        "overdue": overdue,
        "not_begun": lapsed,
    }


def require_faultless(document: dict[str, Any], answer: dict[str, Any]) -> None:
    """Raise FaultyPlanError unless the independent checker finds nothing."""
    faults = check_plan(document, answer)
    if faults:
        raise FaultyPlanError(
            "; ".join(f"{fault.code}: {fault.text}" for fault in faults[:5]),
            remedy="The plan was not stored. Report this with the plan's number.",
        )


@service
def publish_plan(
    plan_pk: int, *, if_match: int | None = None, today: date | None = None
) -> CrewPlan:
    """Make the proposal the branch's plan: visits appear, move or are cancelled.

    Refused with OutdatedPlanError when jobs, crews, visits or calendars changed since it was
    computed, or when it would start something before ``today``.
    """
    branch, plan = flow.lock_for_publishing(CrewPlan, plan_pk, if_match)
    built = _build(plan)
    flow.require_same(plan, input_hash(built.document))
    _require_ahead(plan, today)
    flow.put_in_force(plan)
    counts = placing.place_visits(plan, branch, {one.visit.pk for one in built.visits.standing})
    plan.report = {**plan.report, "published": counts}
    plan.save()
    events.record("crew_plan.published", plan, branch=branch, changes=counts, cause=plan.cause)
    return plan


def _require_ahead(plan: CrewPlan, today: date | None) -> None:
    """Refuse to send a crew into the past: the proposal has waited too long."""
    if today is None or plan.status != P.PROPOSED:
        return
    changed = {*plan.report["added"]}
    changed |= {one["job"] for kind in ("confirmed", "tentative") for one in plan.report[kind]}
    late = sorted(
        job
        for job, slot in plan.plan["plan"].items()
        if int(job) in changed and slot["date"] < today.isoformat()
    )
    if late:
        raise OutdatedPlanError(
            f"This plan starts job {late[0]} before today.", remedy="Ask for a new plan.", jobs=late
        )


def discard_plan(plan_pk: int, *, if_match: int | None = None) -> CrewPlan:
    return flow.discard(CrewPlan, plan_pk, if_match=if_match)


def compute_requested(at: datetime) -> int:
    """Compute what was asked for and what a dead worker left; return how many."""
    return sum(compute_plan(pk, at=at) for pk in flow.waiting(CrewPlan, at))
