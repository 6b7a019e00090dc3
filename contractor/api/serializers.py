"""Strict shapes: an unknown or read-only member in a request is refused, never ignored."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from operator import attrgetter
from typing import Any, ClassVar, TypeVar

from django.db.models import DateTimeField, Model
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.fields import SkipField
from rest_framework.relations import PKOnlyObject

from contractor.api.fields import InstantField
from contractor.api.shaping import LISTED

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
            if _is_json(self.context):  # type: ignore[attr-defined]
                faults |= {
                    str(name): [_WRONG_KIND]
                    for name, value in data.items()
                    if name not in faults and is_of_another_kind(fields[name], value)
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

    def _document(self, row: Any) -> dict[str, Any]:
        document: dict[str, Any] = super().to_representation(row)  # type: ignore[misc]
        return document

    def to_representation(self, row: Any) -> Any:
        document = self._document(row)
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
_WRONG_KIND = serializers.ErrorDetail(
    "The value is of another JSON type than the reference says.", code="incorrect_type"
)
_KINDS: tuple[tuple[type[Any], tuple[type[Any], ...]], ...] = (
    (serializers.BooleanField, (bool,)),
    (serializers.CharField, (str,)),
    (serializers.IntegerField, (int, float)),
    (serializers.FloatField, (int, float)),
)


def _is_json(context: Mapping[str, Any]) -> bool:
    """A form and the cells of a table have only texts."""
    request = context.get("request")
    return request is not None and (request.content_type or "").startswith("application/json")


def is_of_another_kind(field: Any, value: Any) -> bool:
    """Return whether JSON has another type than ``field`` reads; the framework would convert it."""
    if value is None:
        return False
    if isinstance(field, serializers.ListField | serializers.DictField):
        many = value.values() if isinstance(value, dict) else value
        return isinstance(value, list | dict) and any(
            is_of_another_kind(field.child, one) for one in many
        )
    if isinstance(field, serializers.ChoiceField):
        return not any(type(choice) is type(value) for choice in field.choices)
    kinds = next((kinds for kind, kinds in _KINDS if isinstance(field, kind)), None)
    return kinds is not None and (
        not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds)
    )


class StrictSerializer(_Strict, serializers.Serializer[Any]):  # type: ignore[misc]
    """A shape without a model."""


class StrictModelSerializer(_Strict, serializers.ModelSerializer[M]):  # type: ignore[misc]
    """The shape of a row; times are RFC 3339 instants. Name the fields, never ``__all__``."""

    serializer_field_mapping = {
        **serializers.ModelSerializer.serializer_field_mapping,
        DateTimeField: InstantField,
    }
    _fields_of: ClassVar[dict[type[Any], dict[str, Any]]] = {}

    def get_fields(self) -> dict[str, Any]:
        """Ask the model once per shape: the framework asks it again for every request."""
        shape = type(self)
        if shape not in self._fields_of:
            self._fields_of[shape] = super().get_fields()
        return copy.deepcopy(self._fields_of[shape])

    @cached_property
    def _members(self) -> list[tuple[str, Callable[[Any], Any], Callable[[Any], Any]]]:
        """Return (name, how to read it from a row, how to write it) of every readable member."""
        model: type[Model] = self.Meta.model
        columns = {column.name: column for column in model._meta.concrete_fields}
        return [
            (field.field_name, *_ways(field, columns.get(field.source)))
            for field in self._readable_fields
        ]

    def _document(self, row: Any) -> dict[str, Any]:
        if isinstance(row, Mapping):
            return super()._document(row)
        document = {}
        for name, read, write in self._members:
            try:
                value = read(row)
            except SkipField:
                continue
            document[name] = None if value is None else write(value)
        return document


def _ways(field: Any, column: Any) -> tuple[Callable[[Any], Any], Callable[[Any], Any]]:
    """Return how to read and write ``field``; a plain column needs none of the framework's care."""
    if isinstance(field, serializers.ListSerializer):
        return _reader_of_many(field), field.to_representation
    if column is None or isinstance(field, serializers.ManyRelatedField):
        return _reader_of_keys(field), field.to_representation
    if isinstance(field, serializers.PrimaryKeyRelatedField):
        return attrgetter(column.attname), lambda key: key
    return attrgetter(column.name), field.to_representation


def _reader_of_many(field: Any) -> Callable[[Any], Any]:
    """Return a reader of the rows that ``listed`` has fetched, else of the relation."""
    name = LISTED + field.source

    def read(row: Any) -> Any:
        found = row.__dict__.get(name)
        return field.get_attribute(row) if found is None else found

    return read


def _reader_of_keys(field: Any) -> Callable[[Any], Any]:
    """The framework wraps a key; an absent row is None as well."""

    def read(row: Any) -> Any:
        value = field.get_attribute(row)
        return None if isinstance(value, PKOnlyObject) and value.pk is None else value

    return read
