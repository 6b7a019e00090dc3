"""Who changed what, when, from which value to which."""

from __future__ import annotations

from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils import timezone


class AuditEntry(models.Model):
    """One change of one row; ``before`` and ``after`` hold the changed columns only."""

    class What(models.TextChoices):
        CREATED = "created"
        CHANGED = "changed"
        DELETED = "deleted"

    at = models.DateTimeField(default=timezone.now, db_index=True)
    actor = models.CharField(max_length=80)
    subject = models.CharField(max_length=80, db_index=True)
    subject_version = models.PositiveBigIntegerField(default=1)
    company = models.ForeignKey(
        "api.Company", on_delete=models.SET_NULL, null=True, related_name="+"
    )
    branch = models.ForeignKey("api.Branch", on_delete=models.SET_NULL, null=True, related_name="+")
    what = models.CharField(max_length=10, choices=What.choices)
    before: models.JSONField[Any, Any] = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    after: models.JSONField[Any, Any] = models.JSONField(default=dict, encoder=DjangoJSONEncoder)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "audit entries"

    def __str__(self) -> str:
        return f"{self.subject} {self.what} by {self.actor}"
