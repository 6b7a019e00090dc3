"""What the clock starts: thin, repeatable, without answers."""

from __future__ import annotations

from django.utils import timezone

from contractor.queue import task
from jobs.services import forms, links, privacy, sending


@task
def send_due_reminders() -> None:
    sending.send_due(timezone.now())


@task
def find_silent_sends() -> None:
    sending.settle_silent(timezone.now())


@task
def forget_old_forms() -> None:
    forms.forget_old(at=timezone.now())
    links.forget_misses(at=timezone.now())


@task
def keep_retention() -> None:
    privacy.keep_retention(at=timezone.now())
