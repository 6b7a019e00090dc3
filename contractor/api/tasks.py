"""Due work of the shared parts: publish events, send webhooks, forget old answers."""

from __future__ import annotations

from datetime import timedelta

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor.api import idempotency
from contractor.api.webhooks import delivering, publishing
from contractor.api.webhooks.senders import Senders
from contractor.queue import register_sweep

senders = Senders(delivering.deliver)


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def publish_events() -> None:
    publishing.publish(at=timezone.now())
    senders.start(delivering.endpoints_with_due(timezone.now()))


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def forget_old_answers() -> None:
    idempotency.forget_old(now=timezone.now())


def register() -> None:
    """Have the sweeps called: they find what a lost nudge left behind."""
    register_sweep("contractor.api.tasks.publish_events", every=timedelta(seconds=5))
    register_sweep("contractor.api.tasks.forget_old_answers", every=timedelta(hours=1))
