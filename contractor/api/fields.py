"""Quantities in requests and answers; no other module knows how they are written."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Model, QuerySet
from django.utils import timezone
from rest_framework import serializers

from contractor.api import access
from contractor.api.faults import fault, validation_error
from contractor.engine import units
from contractor.engine.errors import InputError


class LengthField(serializers.Field[int, Any, dict[str, Any], int]):
    """A length in whole ticks: ``height = LengthField(source="height_ticks")``.

    In: text such as ``7'-8 1/2"`` or ``{"value", "unit"}``. Out: ``{"value", "unit", "text"}``
    in the system of ``?units=``. ``positive=True`` refuses zero and less, ``minimum=0`` (the
    default) only less than zero; ``minimum=None`` lets negative lengths through.
    """

    def __init__(self, *, positive: bool = False, minimum: int | None = 0, **kwargs: Any) -> None:
        self.minimum_ticks = 1 if positive else minimum
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> int:
        try:
            ticks = units.read_length(data, "")
        except InputError as error:
            raise validation_error(error) from error
        if self.minimum_ticks is not None and ticks < self.minimum_ticks:
            least = units.format_length(self.minimum_ticks, 64)
            raise fault(f"The length is less than {least}.", code="length_too_small")
        return ticks

    def to_representation(self, value: int) -> dict[str, Any]:
        return units.write_length(value, self.context.get("units", "us"))


class QuantityField(serializers.Field[float, Any, dict[str, Any], float]):
    """Another quantity, kept in ``unit``: ``load = QuantityField("lbf", source="load_lbf")``."""

    def __init__(self, unit: str, *, minimum: float | None = None, **kwargs: Any) -> None:
        self.unit = unit
        self.minimum = minimum
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> float:
        try:
            value = units.read_quantity(data, self.unit, "")
        except InputError as error:
            raise validation_error(error) from error
        if self.minimum is not None and value < self.minimum:
            raise fault(f"The value is less than {self.minimum:g} {self.unit}.", code="too_small")
        return value

    def to_representation(self, value: float) -> dict[str, Any]:
        return units.write_quantity(value, self.unit, self.context.get("units", "us"))


class InstantField(serializers.DateTimeField):
    """An RFC 3339 instant: out in UTC with ``Z``, in with an offset (a naive time is refused)."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(default_timezone=timezone.get_fixed_timezone(0), **kwargs)

    def enforce_timezone(self, value: datetime) -> datetime:
        if timezone.is_naive(value):
            raise fault(
                "The time has no offset.",
                code="time_without_offset",
                remedy="Write it as 2026-03-08T14:30:00-05:00 or with Z.",
            )
        return super().enforce_timezone(value)


class ScopedKeyField(serializers.PrimaryKeyRelatedField[Any]):
    """A foreign key in a body: rows that the caller may not see do not exist.

    ``branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")``
    """

    def __init__(
        self,
        rows: QuerySet[Any] | None = None,
        *,
        branch_path: str = "",
        company_path: str = "",
        **kwargs: Any,
    ) -> None:
        self.branch_path, self.company_path = branch_path, company_path
        super().__init__(queryset=rows, **kwargs)

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        who = self.context.get("who")
        if rows is None or who is None:
            raise RuntimeError("A scoped key needs rows, and 'who' in the serializer context.")
        return access.for_user(
            rows, who, branch_path=self.branch_path, company_path=self.company_path
        )

    def to_internal_value(self, data: Any) -> Model:
        if isinstance(data, bool) or not isinstance(data, int):
            raise fault("The key is not a whole number.", code="incorrect_type")
        row: Model = super().to_internal_value(data)
        return row
