"""Base of every row that people edit: a version that moves with each change."""

from __future__ import annotations

from typing import Any

from django.db import models

from contractor.errors import StaleVersionError


class Versioned(models.Model):
    """``version`` starts at 1 and grows in the same transaction as each change (the ETag)."""

    version = models.PositiveBigIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            self.version += 1
            if (fields := kwargs.get("update_fields")) is not None:
                kwargs["update_fields"] = {*fields, "version", "updated_at"}
        super().save(*args, **kwargs)

    def expect_version(self, if_match: int | None) -> None:
        """Refuse with StaleVersionError unless ``if_match`` is None or this very version.

        Call it on a locked row, so that what was compared is what gets written.
        """
        if if_match is not None and if_match != self.version:
            raise StaleVersionError(
                "Somebody changed this record after you read it.",
                remedy="Read it again, repeat your change on top, send the new ETag.",
                current_version=self.version,
            )
