"""What happened, in order, written in the same transaction as the change itself."""

from __future__ import annotations

from typing import Any

from django.db import models

from contractor.api.models.tenants import Branch, Company


class Event(models.Model):
    """``kind`` is "<noun>.<past verb>", ``subject`` is "<noun>:<pk>".

    ``position`` is given after the commit, by one writer at a time: a reader who asks for what
    comes after a position can miss nothing, which ids cannot promise (a transaction with a
    lower id may commit later).
    """

    company = models.ForeignKey(Company, on_delete=models.PROTECT, null=True, related_name="+")
    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, null=True, related_name="+")
    kind = models.CharField(max_length=60)
    subject = models.CharField(max_length=60, db_index=True)
    subject_version = models.PositiveBigIntegerField(default=1)
    actor = models.CharField(max_length=80, default="system")
    data: models.JSONField[Any, Any] = models.JSONField(default=dict)
    at = models.DateTimeField(db_index=True)
    position = models.PositiveBigIntegerField(null=True, unique=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}"
