"""What the clock starts: thin, repeatable, without answers."""

from __future__ import annotations

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from jobs.services import forms, links, privacy, sending


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def send_due_reminders() -> None:
    sending.send_due(timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def find_silent_sends() -> None:
    sending.settle_silent(timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def forget_old_forms() -> None:
    forms.forget_old(at=timezone.now())
    links.forget_misses(at=timezone.now())


@shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
def keep_retention() -> None:
    privacy.keep_retention(at=timezone.now())
