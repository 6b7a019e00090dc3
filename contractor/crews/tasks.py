"""What the clock or a nudge starts: thin, repeatable, without answers."""

from __future__ import annotations

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor.crews.services import geocoding, plans, service_plans, service_visits, visits


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def compute_plan(*, plan_pk: int) -> None:
    plans.compute_plan(plan_pk, at=timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def compute_requested_plans() -> None:
    plans.compute_requested(timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def compute_service_plan(*, plan_pk: int) -> None:
    service_plans.compute_service_plan(plan_pk, at=timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def compute_requested_service_plans() -> None:
    service_plans.compute_requested(timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def finish_visits() -> None:
    visits.finish_visits()


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def follow_requests() -> None:
    service_visits.follow_requests()


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def locate_sites() -> None:
    geocoding.locate_sites()
