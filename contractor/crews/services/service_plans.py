"""Service plans: asked for, computed outside any transaction, checked, proposed, published."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from contractor.api import events
from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.crews import locks
from contractor.crews.errors import FaultyPlanError, NoServiceWorkError, OutdatedPlanError
from contractor.crews.models import ServicePlan
from contractor.crews.services import flow, service_placing
from contractor.crews.services.service_document import (
    ServiceBuilt,
    build_service,
    service_hash,
)
from contractor.crews.services.travel import provider_of
from contractor.engine.errors import InputError
from contractor.engine.rostering.routing_visits_check import check_visits
from contractor.engine.rostering.travel import Place, whole_minutes
from contractor.queue import nudge

MOST_DAYS = 21
P = ServicePlan.Status


@service
def request_service_plan(
    branch_pk: int,
    *,
    today: date,
    first_day: date,
    last_day: date,
    seconds: float,
    seed: int,
    cause: str = "",
) -> ServicePlan:
    """Ask for a plan of the open visit requests of one branch; a worker computes it."""
    branch = locks.lock_branch(branch_pk)
    flow.require_horizon(today, first_day, last_day, MOST_DAYS)
    flow.require_seconds(seconds)
    plan = ServicePlan.objects.create(
        branch=branch,
        today=today,
        first_day=first_day,
        last_day=last_day,
        seconds=seconds,
        seed=seed,
        cause=cause,
    )
    events.record("service_plan.requested", plan, branch=branch)
    nudge("contractor.crews.tasks.compute_service_plan", plan_pk=plan.pk)
    return plan


def compute_service_plan(plan_pk: int, *, at: datetime) -> bool:
    """Compute a requested plan and keep it as a proposal; False where another worker has it."""
    plan = flow.claim(ServicePlan, plan_pk, at=at)
    if plan is None:
        return False
    built = _build(plan)
    try:
        document, source = with_minutes(built.document, plan.branch)
        answer = solve_service(document, seconds=plan.seconds, seed=plan.seed)
        require_faultless(document, answer)
    except (InputError, FaultyPlanError, NoServiceWorkError) as error:
        flow.fail(ServicePlan, plan_pk, why=str(error))
        return True
    flow.propose(
        ServicePlan,
        plan_pk,
        progress={"stage": "done", "seconds": answer["seconds"], "cost": answer["cost"]["total"]},
        instance=document,
        plan=answer,
        input_hash=service_hash(document),
        cost=answer["cost"]["total"],
        report={
            "left_out": built.left_out,
            "missed": answer["missed"],
            "standing": [visit.pk for visit in built.standing],
            "travel": source,
        },
    )
    return True


def _build(plan: ServicePlan) -> ServiceBuilt:
    return build_service(
        plan.branch, today=plan.today, first_day=plan.first_day, last_day=plan.last_day
    )


def with_minutes(document: dict[str, Any], branch: Branch) -> tuple[dict[str, Any], str]:
    """Return the document with drive minutes between all its places, and where they are from."""
    if None in document["at"]["yard"]:
        raise NoServiceWorkError(
            "The branch has no coordinates.", remedy="Enter latitude and longitude of the branch."
        )
    if not document["visits"] or not document["member_days"]:
        raise NoServiceWorkError(
            "No request can be planned on these days, or nobody is free.",
            remedy="Look at left_out, the absences and the install visits; or ask for other days.",
        )
    places = [Place(*document["at"][name]) for name in document["places"]]
    matrix = provider_of(branch).matrix(places)
    minutes = [list(row) for row in whole_minutes(matrix)]
    return {**document, "minutes": minutes}, matrix.source


def solve_service(document: dict[str, Any], *, seconds: float, seed: int) -> dict[str, Any]:
    """Return the engine's ``visit-plan/1`` for a ``service-visits/1`` document."""
    from contractor.engine.rostering.routing_visits_reading import (
        read_visits,
        visit_plan_document,
    )
    from contractor.engine.rostering.routing_visits_solve import plan_visits

    return visit_plan_document(plan_visits(read_visits(document), seconds=seconds, seed=seed))


def require_faultless(document: dict[str, Any], answer: dict[str, Any]) -> None:
    """Raise FaultyPlanError unless the independent checker finds nothing."""
    faults = check_visits(document, answer)
    if faults or not answer["feasible"]:
        told = "; ".join(f"{fault.code}: {fault.text}" for fault in faults[:5])
        raise FaultyPlanError(
            told or "no plan meets all windows",
            remedy="The plan was not stored. Report this with the plan's number.",
        )


@service
def publish_service_plan(
    plan_pk: int, *, if_match: int | None = None, today: date | None = None
) -> ServicePlan:
    """Make the proposal the branch's plan: service visits appear, move or are cancelled.

    Refused with OutdatedPlanError when requests, members, visits or calendars changed since it
    was computed, or when it would send somebody out before ``today``.
    """
    branch, plan = flow.lock_for_publishing(ServicePlan, plan_pk, if_match)
    built = _build(plan)
    flow.require_same(plan, service_hash(built.document))
    stops = plan.plan.get("stops", [])
    if today is not None and any(stop["day"] < today.isoformat() for stop in stops):
        raise OutdatedPlanError("This plan starts before today.", remedy="Ask for a new plan.")
    flow.put_in_force(plan)
    standing = {visit.pk for visit in built.standing}
    counts = service_placing.place_service_visits(plan, branch, standing)
    plan.report = {**plan.report, "published": counts}
    plan.save()
    events.record("service_plan.published", plan, branch=branch, changes=counts)
    return plan


def discard_service_plan(plan_pk: int, *, if_match: int | None = None) -> ServicePlan:
    return flow.discard(ServicePlan, plan_pk, if_match=if_match)


def compute_requested(at: datetime) -> int:
    """Compute what was asked for and what a dead worker left; return how many."""
    return sum(compute_service_plan(pk, at=at) for pk in flow.waiting(ServicePlan, at))
