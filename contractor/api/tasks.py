"""Due work of the shared parts: publish events, send webhooks, long calculations.

What they call stands in ``due``, imported with the first call: it brings the web framework, and
a command that serves nobody starts without it.
"""

from __future__ import annotations

from datetime import timedelta

from contractor.queue import register_sweep, task


@task
def publish_events() -> None:
    from contractor.api import due

    due.publish_events()


@task
def run_calculations() -> None:
    from contractor.api import due

    due.run_calculations()


@task
def forget_old_answers() -> None:
    from contractor.api import due

    due.forget_old_answers()


def register() -> None:
    """Have the sweeps called: they find what a lost nudge left behind."""
    register_sweep("contractor.api.tasks.publish_events", every=timedelta(seconds=5))
    register_sweep("contractor.api.tasks.run_calculations", every=timedelta(seconds=5))
    register_sweep("contractor.api.tasks.forget_old_answers", every=timedelta(hours=1))
