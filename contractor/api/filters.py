"""Filters of lists read their values strictly: what the schema calls a boolean is one.

A filter by the row that a column points at takes any key: an unknown key and the key of a row
that the caller may not see find the same, nothing.
"""

from __future__ import annotations

import re
from typing import Any

import django_filters
from django.db.models import ForeignKey, IntegerField, ManyToManyField, OneToOneField
from django_filters.rest_framework import DjangoFilterBackend, FilterSet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework.request import Request

from contractor.api.refusals import InvalidParameterError

_WHOLE = re.compile(r"-?[0-9]{1,18}")


@extend_schema_field(OpenApiTypes.INT)
class KeyFilter(django_filters.NumberFilter):  # type: ignore[misc]
    """The key of the row that a column points at."""


class StrictFilterSet(FilterSet):  # type: ignore[misc]
    """The usual set answers 400 for an unknown key, and so tells which keys others have."""

    FILTER_DEFAULTS = {
        **FilterSet.FILTER_DEFAULTS,
        ForeignKey: {"filter_class": KeyFilter},
        OneToOneField: {"filter_class": KeyFilter},
        ManyToManyField: {"filter_class": KeyFilter},
    }


class StrictFilterBackend(DjangoFilterBackend):  # type: ignore[misc]
    """The usual backend takes any text for a boolean and 0.5 for a whole number."""

    filterset_base = StrictFilterSet

    def filter_queryset(self, request: Request, queryset: Any, view: Any) -> Any:
        filterset = self.get_filterset(request, queryset, view)
        if filterset is not None:
            for name in filterset.filters:
                if (text := request.query_params.get(name)) is not None:
                    _check(filterset, name, text)
        return super().filter_queryset(request, queryset, view)


def _check(filterset: Any, name: str, text: str) -> None:
    found = filterset.filters[name]
    if isinstance(found, django_filters.BooleanFilter) and text not in ("true", "false"):
        raise _refusal(name, "neither true nor false", "Write true or false.")
    is_number = isinstance(found, django_filters.NumberFilter)
    if is_number and _is_whole(filterset, found) and not _WHOLE.fullmatch(text):
        raise _refusal(name, "not a whole number", "Write a whole number.")


def _is_whole(filterset: Any, found: Any) -> bool:
    if isinstance(found, KeyFilter):
        return True
    model: Any = filterset.queryset.model
    for part in found.field_name.split("__"):
        field = model._meta.get_field(part)
        model = field.related_model
    return isinstance(field, IntegerField)


def _refusal(name: str, what: str, remedy: str) -> InvalidParameterError:
    return InvalidParameterError(f"{name} is {what}.", remedy=remedy, parameter=name)
