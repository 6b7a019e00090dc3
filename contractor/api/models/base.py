"""Base of every row that people edit: an audit trail, and a version that moves with each change."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, ClassVar, Self

from django.db import models, transaction

from contractor.errors import StaleVersionError

_BOOKKEEPING = frozenset({"version", "created_at", "updated_at"})


class Audited(models.Model):
    """Every save and delete writes an audit entry with what changed.

    A model may set ``audited`` to False (rows that machines move by the thousand), or name
    ``audit_hidden`` fields, whose values never reach the trail. ``audit_parent`` leads to the
    row at whose branch and company the entry is filed, where the model names neither itself.
    """

    audited: ClassVar[bool] = True
    audit_hidden: ClassVar[frozenset[str]] = frozenset()
    audit_parent: ClassVar[str] = ""
    quiet_fields: ClassVar[frozenset[str]] = frozenset()
    """Fields whose change alone neither moves the version nor enters the trail."""

    class Meta:
        abstract = True

    @classmethod
    def from_db(
        cls, db: str | None, field_names: Collection[str], values: Collection[Any], **options: Any
    ) -> Self:
        row = super().from_db(db, field_names, values, **options)
        row._loaded = dict(zip(field_names, values, strict=False))
        return row

    _loaded: dict[str, Any] | None = None

    def refresh_from_db(self, *args: Any, **kwargs: Any) -> None:
        super().refresh_from_db(*args, **kwargs)
        self._loaded = self.stored_values()

    def save(self, *args: Any, **kwargs: Any) -> None:
        fields: Collection[str] | None = kwargs.get("update_fields")
        if fields is not None and self.quiet_fields.issuperset(fields):
            super().save(*args, **kwargs)
            return
        is_new = self._state.adding
        if not is_new:
            self._before_change(kwargs)
        with transaction.atomic(savepoint=False):
            super().save(*args, **kwargs)
            self._write_trail("created" if is_new else "changed")

    def _before_change(self, kwargs: dict[str, Any]) -> None:
        """Prepare what ``save`` of a row that is there already gets."""

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        with transaction.atomic():
            self._write_trail("deleted")
            return super().delete(*args, **kwargs)

    def stored_values(self) -> dict[str, Any]:
        """Return attname -> value of the loaded columns."""
        deferred = self.get_deferred_fields()
        return {
            field.attname: getattr(self, field.attname)
            for field in self._meta.concrete_fields
            if field.attname not in deferred
        }

    def _write_trail(self, what: str) -> None:
        from contractor.api import audit  # audit has a model of its own, which imports this

        now = self.stored_values()
        before = {} if what == "created" else (self._loaded or {})
        after = {} if what == "deleted" else now
        if self.audited:
            skipped = _BOOKKEEPING | self.quiet_fields
            audit.record(self, what, before, after, skipped=skipped)
        self._loaded = now


class Versioned(Audited):
    """``version`` starts at 1 and grows in the same transaction as each change (the ETag)."""

    version = models.PositiveBigIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)

    class Meta:
        abstract = True

    def _before_change(self, kwargs: dict[str, Any]) -> None:
        self.version += 1
        if (fields := kwargs.get("update_fields")) is not None:
            kwargs["update_fields"] = {*fields, "version", "updated_at"}

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
