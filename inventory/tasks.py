"""Due work of the warehouse: each task finds or gets its row and may run twice."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from contractor.queue import register_sweep, task
from inventory import due, services


@task
def reserve(*, kit_pk: int) -> None:
    services.reserve_if_open(kit_pk, at=timezone.now())


@task
def plan_cuts(*, plan_pk: int) -> None:
    services.plan_requested(plan_pk, at=timezone.now())


@task
def replan_cuts(*, plan_pk: int) -> None:
    services.replan_cuts(plan_pk, at=timezone.now())


@task
def release_expired() -> None:
    for pk in due.expired_reservations(timezone.now()):
        services.expire(pk, at=timezone.now())


@task
def plan_due_cuts() -> None:
    for pk in due.requested_plans():
        services.plan_requested(pk, at=timezone.now())
    for pk in due.plans_to_replan():
        services.replan_cuts(pk, at=timezone.now())


def register() -> None:
    """Have the sweeps called: they find what a lost nudge left behind."""
    register_sweep("inventory.tasks.release_expired", every=timedelta(seconds=60))
    register_sweep("inventory.tasks.plan_due_cuts", every=timedelta(seconds=30))
