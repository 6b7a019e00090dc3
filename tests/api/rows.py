"""Make a row of any model at a branch, from its fields alone, for the permission matrix.

The rows need not make sense to the trade: checks of the tables are off (SQLite), for the
matrix asks who may see a row, not what is in it.
"""

from __future__ import annotations

import itertools
from datetime import date, datetime, timedelta
from typing import Any

from django.db import connection, models
from django.utils import timezone

from contractor.api.models import Branch, Company, Membership, User

_numbers = itertools.count(1)


class Rows:
    """Rows at one branch; rows that a row needs are made once and shared."""

    def __init__(self, branch: Branch) -> None:
        self.branch = branch
        self._made: dict[type[models.Model], models.Model] = {}

    def of(self, model: type[models.Model]) -> Any:
        """Return the row of ``model`` at this branch, made when first asked for."""
        if model is Branch:
            return self.branch
        if model is Company:
            return self.branch.company
        if model not in self._made:
            self._made[model] = self._make(model)
        return self._made[model]

    def _make(self, model: type[models.Model]) -> models.Model:
        values = {field.name: self._value(field) for field in model._meta.concrete_fields}
        values = {name: value for name, value in values.items() if value is not _SKIP}
        row = model(**values)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA ignore_check_constraints = ON")
            row.save_base(raw=True)
            cursor.execute("PRAGMA ignore_check_constraints = OFF")
        if isinstance(row, User):
            Membership.objects.create(user=row, branch=self.branch, role="crew")
        return row

    def _value(self, field: models.Field[Any, Any]) -> Any:
        related = field.related_model
        if isinstance(related, type) and related in (Branch, Company):
            return self.of(related)
        if field.primary_key or field.null:
            return _SKIP
        if isinstance(related, type):
            return self.of(related)
        if isinstance(field, models.DateTimeField):
            return timezone.now()
        if field.has_default() or (field.blank and isinstance(field, models.CharField)):
            return _SKIP
        return _plain(field)


_SKIP = object()


def _plain(field: models.Field[Any, Any]) -> Any:
    number = next(_numbers)
    if field.choices:
        return next(iter(field.flatchoices))[0]
    if isinstance(field, models.BooleanField):
        return False
    if isinstance(field, models.DateField):
        return date(2026, 11, 2)
    if isinstance(field, models.TimeField):
        return datetime(2026, 11, 2, 8, 0).time()  # noqa: DTZ001 - a wall-clock time
    if isinstance(field, models.DurationField):
        return timedelta(hours=1)
    if isinstance(field, models.IntegerField | models.FloatField | models.DecimalField):
        return number
    if isinstance(field, models.JSONField):
        return {}
    if isinstance(field, models.BinaryField):
        return b"x"
    return f"x{number}"[: field.max_length or None]
