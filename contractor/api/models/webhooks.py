"""Where events are sent, what waits to be sent, and what came of each attempt."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from contractor.api.models.base import Versioned
from contractor.api.models.events import Event
from contractor.api.models.tenants import Branch, Company


class WebhookEndpoint(Versioned):
    """``kinds`` are event kinds or "job.*"; an empty list means every kind.

    ``failing_since`` is set by the first failure after a success and cleared by a success.
    ``hold_until`` is when a receiver that asked for patience may be called again.
    """

    class Status(models.TextChoices):
        ACTIVE = "active"
        PAUSED = "paused"
        DISABLED = "disabled"

    audit_hidden: ClassVar[frozenset[str]] = frozenset({"secret", "old_secret"})
    quiet_fields: ClassVar[frozenset[str]] = frozenset({"failing_since", "hold_until"})

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="+")
    branch = models.ForeignKey(Branch, on_delete=models.CASCADE, null=True, related_name="+")
    url = models.CharField(max_length=500)
    description = models.CharField(max_length=200, blank=True)
    kinds: models.JSONField[Any, Any] = models.JSONField(default=list)
    secret = models.TextField()
    old_secret = models.TextField(blank=True)
    old_secret_until = models.DateTimeField(null=True)
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.ACTIVE)
    status_reason = models.CharField(max_length=200, blank=True)
    failing_since = models.DateTimeField(null=True)
    hold_until = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.url


class WebhookDelivery(models.Model):
    """One event on its way to one endpoint; ``message_id`` stays the same on every attempt."""

    class Status(models.TextChoices):
        PENDING = "pending"
        DELIVERED = "delivered"
        FAILED = "failed"

    endpoint = models.ForeignKey(
        WebhookEndpoint, on_delete=models.CASCADE, related_name="deliveries"
    )
    event = models.ForeignKey(Event, on_delete=models.CASCADE, null=True, related_name="+")
    message_id = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=60)
    subject = models.CharField(max_length=60)
    position = models.PositiveBigIntegerField()
    body = models.TextField()
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.PENDING)
    attempts = models.PositiveIntegerField(default=0)
    next_at = models.DateTimeField()
    last_outcome = models.CharField(max_length=40, blank=True)
    delivered_at = models.DateTimeField(null=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name_plural = "webhook deliveries"
        indexes = [
            models.Index(fields=["status", "next_at"]),
            models.Index(fields=["endpoint", "subject", "status", "position"]),
        ]

    def __str__(self) -> str:
        return self.message_id


class WebhookAttempt(models.Model):
    """The delivery log. The receiver's answer is not kept: it may hold anything."""

    delivery = models.ForeignKey(WebhookDelivery, on_delete=models.CASCADE, related_name="log")
    number = models.PositiveIntegerField()
    at = models.DateTimeField()
    duration_ms = models.PositiveIntegerField()
    http_status = models.PositiveSmallIntegerField(null=True)
    outcome = models.CharField(max_length=40)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.delivery_id} #{self.number}: {self.outcome}"
