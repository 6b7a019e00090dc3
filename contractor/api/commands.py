"""``@command``: a POST that acts on a row, such as ``/kits/17/reserve``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponseBase
from rest_framework.decorators import action as framework_action
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.models import Versioned
from contractor.api.serializers import StrictSerializer


@dataclass(frozen=True)
class Order:
    """What one command call carries into the view's method."""

    row: Any
    values: dict[str, Any]
    if_match: int | None
    computed: Any = None


@dataclass(frozen=True)
class Steps:
    """``prepare`` runs before the transaction of the once-only POST, ``act`` inside it."""

    prepare: Callable[[Any, Request], Order]
    act: Callable[[Any, Order], HttpResponseBase]


def command(
    *,
    body: type[Any] | None = None,
    answer: type[Any] | None = None,
    path: str | None = None,
    status: int = 200,
    detail: bool = True,
    if_match: bool = True,
    compute: Callable[[Any, Order], Any] | None = None,
) -> Callable[[Callable[[Any, Order], Any]], Any]:
    """Turn ``def reserve(self, order) -> row`` into ``POST /kits/17/reserve``.

    The wrapper finds the row in the caller's scope (404, 403), demands If-Match (428, 412),
    reads ``body``, and answers the returned row with its ETag in the shape ``answer`` (default
    the view's serializer). ``if_match=False`` is for commands that change no version.
    ``detail=False`` gives a command on the collection, with ``order.row`` None.
    ``compute(view, order)`` runs before the transaction (solvers, other services' answers); its
    result is ``order.computed``, and the method must check that what it read still holds.
    """

    def decorate(method: Callable[[Any, Order], Any]) -> Any:
        def prepare(view: Any, request: Request) -> Order:
            row = view.get_object() if detail else None
            wants_tag = if_match and isinstance(row, Versioned)
            version = view.expected_version(row) if wants_tag else None
            values = view.read(body) if body else view.read(StrictSerializer, request.data or {})
            if not detail:
                view.check_place(values)
            order = Order(row, values, version)
            return Order(row, values, version, compute(view, order)) if compute else order

        def act(view: Any, order: Order) -> HttpResponseBase:
            result = method(view, order)
            if isinstance(result, HttpResponseBase):
                return result
            response: Response = view.answer(result, status=status, shape=answer)
            return response

        def handler(self: Any, request: Request, **kwargs: Any) -> HttpResponseBase:
            return act(self, prepare(self, request))  # only views that store nothing come here

        handler.__name__ = method.__name__
        handler.__doc__ = method.__doc__
        handler.steps = Steps(prepare, act)  # type: ignore[attr-defined]
        handler.command = (body, answer, status, if_match and detail)  # type: ignore[attr-defined]
        address = path or method.__name__.replace("_", "-")
        return framework_action(detail=detail, methods=["post"], url_path=address)(handler)

    return decorate
