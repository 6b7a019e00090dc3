"""Filters of lists read their values strictly: what the schema calls a boolean is one."""

from __future__ import annotations

import re
from typing import Any

import django_filters
from django.db.models import IntegerField
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework.request import Request

from contractor.api.refusals import InvalidParameterError

_WHOLE = re.compile(r"-?[0-9]{1,18}")


class StrictFilterBackend(DjangoFilterBackend):  # type: ignore[misc]
    """The usual backend takes any text for a boolean and 0.5 for a whole number."""

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
    model: Any = filterset.queryset.model
    for part in found.field_name.split("__"):
        field = model._meta.get_field(part)
        model = field.related_model
    return isinstance(field, IntegerField)


def _refusal(name: str, what: str, remedy: str) -> InvalidParameterError:
    return InvalidParameterError(f"{name} is {what}.", remedy=remedy, parameter=name)
