"""Why a plan is as it is: answers from its own documents, computed while nothing is locked."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import date
from typing import Any

from contractor.crews.errors import NoAnswerInTimeError
from contractor.crews.models import CrewPlan
from contractor.engine.rostering.document import Half, Instance
from contractor.engine.rostering.explaining_document import (
    prices_document,
    reasons_document,
    why_not_document,
)
from contractor.engine.rostering.pins import pin_cost
from contractor.engine.rostering.plan_document import Visit, read_visits
from contractor.engine.rostering.reading import read_instance
from contractor.errors import NotFoundError, WrongStateError

LONGEST_S = 20.0
Clock = Callable[[], float]


def why(plan: CrewPlan, job_pk: int) -> dict[str, Any]:
    """Return cost parts, alternatives, earliest start, slack, pin, and what would help."""
    instance, visits = _computed(plan)
    return reasons_document(instance, visits, _job(instance, job_pk))


def why_not(plan: CrewPlan, job_pk: int, crew_pk: int, day: date, half: Half) -> dict[str, Any]:
    """Say, rule by rule, what keeps a crew from a job then; else what moving the holder costs."""
    instance, visits = _computed(plan)
    crew = instance.crew_of.get(str(crew_pk))
    if crew is None:
        raise NotFoundError("This plan does not know that crew.")
    return why_not_document(instance, visits, _job(instance, job_pk), (crew, day, half))


def crew_day_prices(plan: CrewPlan, *, clock: Clock = time.monotonic) -> dict[str, Any]:
    """Return what one more crew-day would save, by branch and week.

    Raises NoAnswerInTimeError after ``LONGEST_S`` seconds.
    """
    instance, _ = _computed(plan)
    deadline = clock() + LONGEST_S
    document = prices_document(instance, lambda: clock() > deadline)
    if instance.jobs and not document["weeks"] and clock() > deadline:
        raise NoAnswerInTimeError(
            f"The prices were not found within {LONGEST_S:g} s.",
            remedy="Ask for a plan of fewer days.",
        )
    return document


def value(plan: CrewPlan, *, clock: Clock = time.monotonic) -> dict[str, Any]:
    """Return cost, bound, gap and seed of a plan, its best rule, and what its pins cost.

    A pin that the time was not enough for has ``cost_at_least`` null.
    """
    instance, visits = _computed(plan)
    deadline = clock() + LONGEST_S
    answer = plan.plan
    names = ("cost", "bound", "gap", "proven", "seconds", "seed", "engine", "rule", "rule_cost")
    pins = []
    for pin in instance.pins:
        told = {"job": int(pin.job), "owner": pin.owner, "reason": pin.reason}
        cost = pin_cost(instance, visits, pin) if clock() < deadline else None
        pins.append(
            {
                **told,
                "is_kept": cost.is_kept if cost else None,
                "cost_at_least": cost.cost_at_least if cost else None,
            }
        )
    return {**{name: answer[name] for name in names}, "pins": pins}


def _computed(plan: CrewPlan) -> tuple[Instance, tuple[Visit, ...]]:
    if not plan.plan:
        raise WrongStateError(
            "This plan has no answer to explain.",
            remedy="Wait until it is proposed.",
            status_now=plan.status,
        )
    instance = read_instance(plan.instance)
    return instance, read_visits(plan.plan, instance)


def _job(instance: Instance, job_pk: int) -> Any:
    job = instance.job_of.get(str(job_pk))
    if job is None:
        raise NotFoundError(
            "This plan does not know that job.",
            remedy="Look into left_out and standing of the plan's report.",
        )
    return job
