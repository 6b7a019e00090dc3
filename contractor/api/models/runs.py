"""Calculations that take longer than a request may: queued, run, kept for a day."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from contractor.api.models.base import Versioned
from contractor.api.models.tenants import User


class CalculationRun(Versioned):
    """The caller's own; ``document`` and ``answer`` go with the row after a day."""

    class Status(models.TextChoices):
        WAITING = "waiting"
        RUNNING = "running"
        DONE = "done"
        FAILED = "failed"
        CANCELLED = "cancelled"

    audited: ClassVar[bool] = False
    quiet_fields: ClassVar[frozenset[str]] = frozenset({"progress", "lease_until"})

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    name = models.CharField(max_length=40)
    units = models.CharField(max_length=2)
    seconds = models.FloatField()
    document: models.JSONField[Any, Any] = models.JSONField()
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True)
    progress: models.JSONField[Any, Any] = models.JSONField(default=dict)
    answer: models.JSONField[Any, Any] = models.JSONField(null=True)
    problem: models.JSONField[Any, Any] = models.JSONField(null=True)

    class Meta:
        indexes = [models.Index(fields=["status", "created_at"])]

    def __str__(self) -> str:
        return f"{self.name} {self.pk} {self.status}"
