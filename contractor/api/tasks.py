"""Due work of the shared parts: publish events, send webhooks, long calculations."""

from __future__ import annotations

from datetime import timedelta

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor.api import idempotency
from contractor.api.keyed_pool import KeyedPool
from contractor.api.services import runs
from contractor.api.webhooks import delivering, publishing
from contractor.queue import register_sweep

senders = KeyedPool(delivering.deliver, threads=8, name="webhooks")
calculators = KeyedPool(runs.execute, threads=1, name="calculations")


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def publish_events() -> None:
    publishing.publish(at=timezone.now())
    senders.start(delivering.endpoints_with_due(timezone.now()))


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def run_calculations() -> None:
    calculators.start(runs.waiting(timezone.now()))


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def forget_old_answers() -> None:
    idempotency.forget_old(now=timezone.now())
    runs.forget_old_runs(now=timezone.now())


def register() -> None:
    """Have the sweeps called: they find what a lost nudge left behind."""
    register_sweep("contractor.api.tasks.publish_events", every=timedelta(seconds=5))
    register_sweep("contractor.api.tasks.run_calculations", every=timedelta(seconds=5))
    register_sweep("contractor.api.tasks.forget_old_answers", every=timedelta(hours=1))
