"""What the pages remember: forms that were sent, and addresses that guess at links."""

from __future__ import annotations

from django.db import models


class FormPost(models.Model):
    """A form that took effect. Its hidden key comes back when somebody sends it twice."""

    principal = models.CharField(max_length=40, help_text="link:<pk> or user:<pk>")
    key = models.CharField(max_length=64)
    created_at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["principal", "key"], name="form_takes_effect_once"),
        ]

    def __str__(self) -> str:
        return f"form of {self.principal}"


class LinkMiss(models.Model):
    """How often one address asked for links that do not exist, per quarter of an hour.

    ``address_hash`` is keyed: the table does not tell who it was.
    """

    address_hash = models.CharField(max_length=64)
    window = models.DateTimeField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["address_hash", "window"], name="misses_once_per_window"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} misses from {self.window:%H:%M} on"
