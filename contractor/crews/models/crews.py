"""Who works together, what they are certified for, and what they drive."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from contractor.api.models import Branch, Versioned


class Vehicle(Versioned):
    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="vehicles")
    name = models.CharField(max_length=80)
    payload_lb = models.FloatField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["branch", "name"], name="vehicle_name_once"),
            models.CheckConstraint(
                condition=models.Q(payload_lb__gte=0), name="payload_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Crew(Versioned):
    """People who work together. ``pace`` is work per hour against the company's rates (1.0)."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="crews")
    name = models.CharField(max_length=80)
    pace = models.FloatField(default=1.0)
    vehicle = models.OneToOneField(
        Vehicle, on_delete=models.SET_NULL, null=True, blank=True, related_name="crew"
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["branch", "name"], name="crew_name_once"),
            models.CheckConstraint(condition=models.Q(pace__gt=0), name="crew_pace_positive"),
        ]

    def __str__(self) -> str:
        return self.name


class Member(Versioned):
    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="members")
    crew = models.ForeignKey(
        Crew, on_delete=models.SET_NULL, null=True, blank=True, related_name="members"
    )
    name = models.CharField(max_length=120)
    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.name


class Certificate(Versioned):
    """Valid through ``valid_to`` (that day included); open-ended where it is null."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="certificates")
    skill = models.CharField(max_length=60)
    valid_from = models.DateField()
    valid_to = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(valid_to__isnull=True)
                | models.Q(valid_to__gte=models.F("valid_from")),
                name="certificate_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.skill} of {self.member_id}"
