"""Cursor paging on (sort value, key): stable while rows are added, never a COUNT unless asked."""

from __future__ import annotations

import base64
import binascii
import json
from datetime import date, datetime
from typing import Any

from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.db.models import Model, Q, QuerySet
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import remove_query_param, replace_query_param

from contractor.api.refusals import InvalidCursorError, InvalidParameterError

DEFAULT_LIMIT, MAX_LIMIT = 50, 200
_CURSOR = {"type": "string", "pattern": "^[A-Za-z0-9_-]+$"}


class CreatedCursorPagination(BasePagination):
    """``?limit=`` (default 50, at most 200) and the opaque ``?cursor=`` of the Link header.

    The order is the view's ``default_ordering`` ("-created_at"), or ``?ordering=`` out of its
    ``ordering_fields``; the key always breaks ties.
    """

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:
        self.request = request
        self.limit = _limit(request)
        self.field, self.is_descending = _ordering(request, view)
        is_back, mark = _decode(request.query_params.get("cursor"))
        rows = _after(queryset, self.field, self.is_descending != is_back, mark)
        found = list(rows[: self.limit + 1])
        more, page = len(found) > self.limit, found[: self.limit]
        if is_back:
            page.reverse()
        self.has_next = more if not is_back else True
        self.has_previous = (mark is not None) if not is_back else more
        self.count = queryset.count() if _wants_count(request) else None
        self.page = page
        return page

    def get_paginated_response(self, data: Any) -> Response:
        following = self._link(self.page[-1], is_back=False) if self._can(self.has_next) else None
        previous = self._link(self.page[0], is_back=True) if self._can(self.has_previous) else None
        answer = {"results": data, "next": following, "previous": previous}
        if self.count is not None:
            answer["count"] = self.count
        links = [
            f'<{url}>; rel="{name}"'
            for name, url in (("next", following), ("prev", previous))
            if url is not None
        ]
        return Response(answer, headers={"Link": ", ".join(links)} if links else None)

    def _can(self, wanted: bool) -> bool:
        return wanted and bool(self.page)

    def _link(self, row: Model, *, is_back: bool) -> str:
        mark = [int(is_back), _written(_value(row, self.field)), row.pk]
        cursor = base64.urlsafe_b64encode(json.dumps(mark).encode()).decode().rstrip("=")
        url = remove_query_param(self.request.build_absolute_uri(), "count")
        return str(replace_query_param(url, "cursor", cursor))

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        link = {"type": ["string", "null"], "format": "uri"}
        return {
            "type": "object",
            "required": ["results", "next", "previous"],
            "properties": {
                "results": schema,
                "next": {**link, "description": "Address of the next page; also in Link."},
                "previous": {**link, "description": "Address of the page before this one."},
                "count": {"type": "integer", "description": "Only with ?count=true."},
            },
        }

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        parameters: list[dict[str, Any]] = [
            _parameter("cursor", _CURSOR, "Taken from next, previous or Link."),
            _parameter(
                "limit",
                {"type": "integer", "minimum": 1, "maximum": MAX_LIMIT, "default": DEFAULT_LIMIT},
                "Rows per page.",
            ),
            _parameter("count", {"type": "string", "enum": ["true"]}, "Count all rows as well."),
        ]
        if names := getattr(view, "ordering_fields", ()):
            offered = [sign + name for name in names for sign in ("", "-")]
            parameters.append(
                _parameter("ordering", {"type": "string", "enum": offered}, "Sort by; - turns it.")
            )
        return parameters


def _parameter(name: str, schema: dict[str, Any], text: str) -> dict[str, Any]:
    return {"name": name, "in": "query", "required": False, "schema": schema, "description": text}


def _wants_count(request: Request) -> bool:
    text = request.query_params.get("count")
    if text not in (None, "true"):
        raise InvalidParameterError(
            "count is not true.", remedy="Write true, or leave it out.", parameter="count"
        )
    return text is not None


def _limit(request: Request) -> int:
    text = request.query_params.get("limit", str(DEFAULT_LIMIT))
    if text.isascii() and text.isdigit() and len(text) <= 4 and 1 <= int(text) <= MAX_LIMIT:
        return int(text)
    raise InvalidParameterError(
        f"limit is not a whole number from 1 to {MAX_LIMIT}.",
        remedy=f"Leave it out for {DEFAULT_LIMIT}.",
        parameter="limit",
    )


def _ordering(request: Request, view: Any) -> tuple[str, bool]:
    """Return (field, whether descending)."""
    default: str = getattr(view, "default_ordering", "-created_at")
    asked = request.query_params.get("ordering", default)
    name = asked.removeprefix("-")
    offered = (default.removeprefix("-"), *getattr(view, "ordering_fields", ()))
    if name not in offered:
        raise InvalidParameterError(
            "ordering names no field to sort by.",
            remedy="Use one of: " + ", ".join(sorted(set(offered))) + "; - in front turns it.",
            parameter="ordering",
        )
    return name, asked.startswith("-")


def _after(
    rows: QuerySet[Any], field: str, is_descending: bool, mark: tuple[Any, int] | None
) -> QuerySet[Any]:
    sign, beyond = ("-", "lt") if is_descending else ("", "gt")
    names = [sign + "pk"] if field in ("id", "pk") else [sign + field, sign + "pk"]
    ordered = rows.order_by(*names)
    if mark is None:
        return ordered
    value, key = mark
    try:
        value = _field_value(rows.model, field, value)
        later = Q(**{f"{field}__{beyond}": value}) | Q(**{field: value, f"pk__{beyond}": key})
        # The first condition says nothing new, but lets an index start at the cursor.
        return ordered.filter(**{f"{field}__{beyond}e": value}).filter(later)
    except (ValidationError, ValueError, TypeError, FieldDoesNotExist) as error:
        raise _unreadable() from error


def _field_value(model: type[Model], path: str, value: Any) -> Any:
    names = path.split("__")
    for name in names[:-1]:
        related = model._meta.get_field(name).related_model
        assert related is not None
        assert not isinstance(related, str)
        model = related
    if names[-1] == "pk":
        return value
    field: Any = model._meta.get_field(names[-1])
    return field.to_python(value)


def _value(row: Any, field: str) -> Any:
    for name in field.split("__"):
        row = getattr(row, name)
    return row


def _written(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | datetime) else value


def _decode(cursor: str | None) -> tuple[bool, tuple[Any, int] | None]:
    """Return (whether backwards, (sort value, key) to start beyond)."""
    if cursor is None:
        return False, None
    try:
        raw = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        is_back, value, key = json.loads(raw)
    except (binascii.Error, ValueError, TypeError, RecursionError) as error:
        raise _unreadable() from error
    is_sound = type(is_back) is int and type(key) is int and abs(key) < 2**63
    if not is_sound or not isinstance(value, str | int | float) or is_back not in (0, 1):
        raise _unreadable()
    if isinstance(value, int) and abs(value) >= 2**63:
        raise _unreadable()
    return bool(is_back), (value, key)


def _unreadable() -> InvalidCursorError:
    return InvalidCursorError(
        "The cursor is not one that this list gave out.",
        remedy="Take it from next, previous or the Link header; start without a cursor.",
    )
