"""Companies, branches, users and the roles that users hold at branches."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models

from contractor.api.models.base import Versioned


class Company(Versioned):
    """A contractor. ``settings`` holds layout rules, rates and policies that differ from ours."""

    name = models.CharField(max_length=120)
    units = models.CharField(max_length=2, choices=[("us", "US"), ("si", "SI")], default="us")
    settings: models.JSONField[Any, Any] = models.JSONField(default=dict, blank=True)

    class Meta:
        verbose_name_plural = "companies"

    def __str__(self) -> str:
        return self.name


class Branch(Versioned):
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="branches")
    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=64, default="America/New_York")
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "branches"
        constraints = [
            models.UniqueConstraint(fields=["company", "name"], name="branch_name_once"),
        ]

    def __str__(self) -> str:
        return self.name


class User(Versioned, AbstractUser):
    """A person or a machine account; what it may do comes from its memberships."""

    audit_hidden: ClassVar[frozenset[str]] = frozenset({"password"})
    quiet_fields: ClassVar[frozenset[str]] = frozenset({"last_login"})
    hired_at: Branch | None = None


class Role(models.TextChoices):
    OWNER = "owner"
    OFFICE = "office"
    WAREHOUSE = "warehouse"
    CREW = "crew"
    READ_ONLY = "read_only"
    INTEGRATION = "integration"


class Membership(Versioned):
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    branch = models.ForeignKey(Branch, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "branch", "role"], name="membership_once"),
        ]

    def __str__(self) -> str:
        return f"{self.user} is {self.role} at {self.branch}"
