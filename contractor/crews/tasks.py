"""What the clock or a nudge starts: thin, repeatable, without answers."""

from __future__ import annotations

from django.utils import timezone

from contractor.crews.services import geocoding, plans, service_plans, service_visits, visits
from contractor.queue import task


@task
def compute_plan(*, plan_pk: int) -> None:
    plans.compute_plan(plan_pk, at=timezone.now())


@task
def compute_requested_plans() -> None:
    plans.compute_requested(timezone.now())


@task
def compute_service_plan(*, plan_pk: int) -> None:
    service_plans.compute_service_plan(plan_pk, at=timezone.now())


@task
def compute_requested_service_plans() -> None:
    service_plans.compute_requested(timezone.now())


@task
def finish_visits() -> None:
    visits.finish_visits()


@task
def follow_requests() -> None:
    service_visits.follow_requests()


@task
def locate_sites() -> None:
    geocoding.locate_sites()
