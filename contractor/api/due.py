"""Due work of the shared parts, as the tasks call it."""

from __future__ import annotations

from django.utils import timezone

from contractor.api import idempotency
from contractor.api.keyed_pool import KeyedPool
from contractor.api.services import runs
from contractor.api.webhooks import delivering, publishing

senders = KeyedPool(delivering.deliver, threads=8, name="webhooks")
calculators = KeyedPool(runs.execute, threads=1, name="calculations")


def publish_events() -> None:
    """Number new events, queue their deliveries and send what is due."""
    publishing.publish(at=timezone.now())
    senders.start(delivering.endpoints_with_due(timezone.now()))


def run_calculations() -> None:
    """Start the long calculations that wait."""
    calculators.start(runs.waiting(timezone.now()))


def forget_old_answers() -> None:
    """Delete remembered answers and calculations older than a day."""
    idempotency.forget_old(now=timezone.now())
    runs.forget_old_runs(now=timezone.now())
