"""The Celery app; imported by ``ContractorConfig.ready`` so that engine imports stay light."""

from __future__ import annotations

from typing import Any

from celery import Celery

from contractor.queue import SWEEPS

app = Celery("contractor")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@app.on_after_finalize.connect
def schedule_sweeps(sender: Celery, **_: Any) -> None:
    """Let beat call every registered sweep."""
    for sweep in SWEEPS.values():
        sender.add_periodic_task(
            sweep.every.total_seconds(), sender.signature(sweep.task), name=sweep.task
        )
