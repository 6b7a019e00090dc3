"""Strict shapes: an unknown or read-only member in a request is refused, never ignored."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from django.db.models import DateTimeField, Model
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from contractor.api.fields import InstantField

M = TypeVar("M", bound=Model)


class _Strict:
    """Mixin of both bases below."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            fields: Mapping[str, Any] = self.fields  # type: ignore[attr-defined]
            faults = {
                str(name): [_UNKNOWN if name not in fields else _READ_ONLY]
                for name in data
                if name not in fields or fields[name].read_only
            }
            if faults:
                raise ValidationError(faults)
        return super().to_internal_value(data)  # type: ignore[misc]


_UNKNOWN = serializers.ErrorDetail("There is no such member.", code="unknown_member")
_READ_ONLY = serializers.ErrorDetail("This member cannot be set.", code="read_only")


class StrictSerializer(_Strict, serializers.Serializer[Any]):
    """A shape without a model."""


class StrictModelSerializer(_Strict, serializers.ModelSerializer[M]):
    """The shape of a row; times are RFC 3339 instants. Name the fields, never ``__all__``."""

    serializer_field_mapping = {
        **serializers.ModelSerializer.serializer_field_mapping,
        DateTimeField: InstantField,
    }
