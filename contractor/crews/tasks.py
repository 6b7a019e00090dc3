"""What the clock or a nudge starts: thin, repeatable, without answers."""

from __future__ import annotations

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor.crews.services import plans, visits


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def compute_plan(*, plan_pk: int) -> None:
    plans.compute_plan(plan_pk, at=timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def compute_requested_plans() -> None:
    plans.compute_requested(timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def finish_visits() -> None:
    visits.finish_visits()
