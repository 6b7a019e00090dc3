"""Tokens of machines and devices: only a hash is kept."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from contractor.api.models.base import Versioned
from contractor.api.models.tenants import Branch, User


class Token(Versioned):
    """``scopes`` are "<area>:read" or "<area>:write"; "*" stands for every area.

    ``hint`` is the first part of the secret, so that people can tell tokens apart.
    """

    audit_hidden: ClassVar[frozenset[str]] = frozenset({"digest"})
    quiet_fields: ClassVar[frozenset[str]] = frozenset({"last_used_at"})

    @property
    def audit_parent(self) -> str:  # type: ignore[override]
        """A token of no branch is seen where its account is."""
        return "" if self.branch_id else "user"

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="tokens")
    branch = models.ForeignKey(Branch, on_delete=models.CASCADE, null=True, related_name="+")
    name = models.CharField(max_length=80)
    hint = models.CharField(max_length=12)
    digest = models.CharField(max_length=64, unique=True)
    scopes: models.JSONField[Any, Any] = models.JSONField(default=list)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    last_used_at = models.DateTimeField(null=True)
    replaces = models.ForeignKey("self", on_delete=models.SET_NULL, null=True, related_name="+")

    def __str__(self) -> str:
        return f"{self.name} ({self.hint}...)"
