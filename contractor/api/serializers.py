"""Strict shapes: an unknown or read-only member in a request is refused, never ignored."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
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

    @property
    def _readable_fields(self) -> Iterator[Any]:
        only = self.context.get("only") if self._is_outermost() else None  # type: ignore[attr-defined]
        for field in super()._readable_fields:  # type: ignore[misc]
            if only is None or field.field_name in only:
                yield field

    def to_representation(self, row: Any) -> Any:
        document = super().to_representation(row)  # type: ignore[misc]
        context: Mapping[str, Any] = self.context  # type: ignore[attr-defined]
        if (expand := context.get("expand")) and self._is_outermost():
            inner = {**context, "only": None, "expand": None}
            for name, shape in expand.items():
                if name in document:
                    other = getattr(row, name)
                    document[name] = None if other is None else shape(other, context=inner).data
        return document

    def _is_outermost(self) -> bool:
        parent = self.parent  # type: ignore[attr-defined]
        return parent is None or (
            isinstance(parent, serializers.ListSerializer) and parent.parent is None
        )


_UNKNOWN = serializers.ErrorDetail("There is no such member.", code="unknown_member")
_READ_ONLY = serializers.ErrorDetail("This member cannot be set.", code="read_only")


class StrictSerializer(_Strict, serializers.Serializer[Any]):  # type: ignore[misc]
    """A shape without a model."""


class StrictModelSerializer(_Strict, serializers.ModelSerializer[M]):  # type: ignore[misc]
    """The shape of a row; times are RFC 3339 instants. Name the fields, never ``__all__``."""

    serializer_field_mapping = {
        **serializers.ModelSerializer.serializer_field_mapping,
        DateTimeField: InstantField,
    }
