"""``?fields=`` and ``?expand=`` on lists and details: less of a row, or a neighbour with it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django.db.models import Prefetch
from rest_framework.request import Request

from contractor.api.refusals import InvalidParameterError

LISTED = "listed_"
PARAMETERS = frozenset({"fields", "expand"})


def wanted_names(request: Request, parameter: str, known: Collection[str]) -> list[str] | None:
    """Return the comma-separated names of ``parameter``; None when it is not there.

    Raises InvalidParameterError for a name that is not known.
    """
    text = request.query_params.get(parameter)
    if text is None:
        return None
    names = list(dict.fromkeys(name.strip() for name in text.split(",")))
    for name in names:
        if name not in known:
            offered = ", ".join(sorted(known)) or "none"
            raise InvalidParameterError(
                f"{parameter} names {name[:60]!r}, which is not offered here.",
                remedy=f"Offered: {offered}.",
                parameter=parameter,
            )
    return names


def shape_context(
    request: Request, known: Collection[str], expandable: Mapping[str, type[Any]]
) -> dict[str, Any]:
    """Return the serializer context: ``only`` (names or None) and ``expand`` (name -> shape)."""
    only = wanted_names(request, "fields", known)
    expand = wanted_names(request, "expand", expandable) or []
    return {"only": only, "expand": {name: expandable[name] for name in expand}}


def listed(*relations: str) -> list[Prefetch[Any]]:
    """Return prefetches into plain lists, which our shapes read.

    ``queryset = Job.objects.prefetch_related(*listed("walls"))``. Without this Django makes a
    manager and a query set for each row, which took a quarter of the time of a list.
    """
    return [Prefetch(name, to_attr=LISTED + name) for name in relations]
