"""Answers that are remembered, so that a repeated POST does not repeat its effect."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils import timezone


class RememberedAnswer(models.Model):
    """Written in the transaction of the effect; replayed for 24 hours."""

    principal = models.CharField(max_length=40)
    method = models.CharField(max_length=8)
    path = models.CharField(max_length=300)
    key = models.CharField(max_length=200)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField()
    headers: models.JSONField[Any, Any] = models.JSONField(default=dict)
    body = models.TextField()
    is_sealed = models.BooleanField(default=False)
    created_at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["principal", "method", "path", "key"], name="answer_once_per_key"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.method} {self.path} {self.key}"
