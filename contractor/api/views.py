"""Base of every API view: who asks, units, strict input, once-only POSTs.

An app view declares ``access`` and ``area`` and stays tiny: shape in, service call, shape out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Set
from functools import partial
from typing import Any, ClassVar

from django.http import HttpResponseBase
from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from contractor.api import idempotency, problems
from contractor.api.access import Who, who_is
from contractor.api.actor import acting_as, now_acting_as
from contractor.api.quota import quota_headers
from contractor.api.refusals import InvalidParameterError, UnknownParameterError
from contractor.api.units import system_of
from contractor.engine.units import System

ALWAYS_READ = frozenset({"units", "format"})


class Rules:
    """What a view declares. ``access``: action (viewsets) or method -> roles, or ``PUBLIC``.

    ``area`` names the token scope ("inventory" -> inventory:read, inventory:write).
    ``stores_nothing`` marks calculators: no Idempotency-Key, the read scope is enough.
    ``seals_answers`` marks answers that hold a secret: what is remembered is encrypted.
    ``query_parameters`` are read by the view beyond paging, filters, units, fields, expand.
    """

    access: ClassVar[Mapping[str, Set[str] | str]] = {}
    area: ClassVar[str] = ""
    stores_nothing: ClassVar[bool] = False
    seals_answers: ClassVar[bool] = False
    query_parameters: ClassVar[frozenset[str]] = frozenset()


class ApiView(Rules, APIView):
    """A view of its own kind; write ``get``/``post`` as usual."""

    who: Who
    units: System

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        with acting_as("anonymous"):
            return super().dispatch(request, *args, **kwargs)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Check the caller, then the query, then the body; and make a POST happen once."""
        super().initial(request, *args, **kwargs)
        if not hasattr(self, str(request.method).lower()):
            return  # the framework answers 405
        self.units = system_of(request, getattr(self, "who", None))
        self._refuse_unknown_parameters(request)
        _read_body(request)
        handler = getattr(self, "post", None)
        if request.method == "POST" and handler is not None and not self.stores_nothing:
            setattr(self, "post", partial(self._post_once, handler))  # noqa: B010 - for mypy

    def perform_authentication(self, request: Request) -> None:
        super().perform_authentication(request)
        if request.user:
            self.who = who_is(request)
            now_acting_as(self.who.actor)

    def known_parameters(self) -> Set[str]:
        """Return the query parameters that this action reads."""
        return ALWAYS_READ | self.query_parameters

    def _refuse_unknown_parameters(self, request: Request) -> None:
        known = self.known_parameters()
        for name, values in sorted(request.query_params.lists()):
            if name in known and (len(values) > 1 or values[0] == ""):
                raise InvalidParameterError(
                    f"{name} is empty or given twice.",
                    remedy="Give one value, or leave it out.",
                    parameter=name,
                )
            if name not in known:
                raise UnknownParameterError(
                    f"{name[:60]!r} is not read here.",
                    remedy="Known here: " + ", ".join(sorted(known - {"format"})) + ".",
                    parameter=name[:60],
                )

    def _post_once(
        self, handler: Callable[..., HttpResponseBase], request: Request, *args: Any, **kwargs: Any
    ) -> HttpResponseBase:
        """Run ``handler`` under its Idempotency-Key.

        A handler made by ``command`` has two steps: ``prepare`` runs before the transaction.
        """
        attempt = idempotency.attempt_of(request, f"user:{request.user.pk}")
        action = getattr(self, getattr(self, "action", None) or "post", None)
        steps = getattr(action, "steps", None)
        if steps is None:
            return idempotency.once(
                attempt,
                lambda: None,
                lambda _: handler(request, *args, **kwargs),
                seal=self.seals_answers,
            )
        return idempotency.once(
            attempt,
            lambda: steps.prepare(self, request),
            lambda prepared: steps.act(self, prepared),
            seal=self.seals_answers,
        )

    def get_serializer_context(self) -> dict[str, Any]:
        """Return what our fields need: who asks and in which units."""
        parent = super()
        context = (
            parent.get_serializer_context() if hasattr(parent, "get_serializer_context") else {}
        )
        return {
            **context,
            "request": self.request,
            "view": self,
            "who": getattr(self, "who", None),
            "units": getattr(self, "units", "us"),
        }

    def read(self, shape: type[Any], data: Any = None) -> dict[str, Any]:
        """Return the validated body. Raises ValidationError (400)."""
        body = self.request.data if data is None else data
        filled = shape(data=body, context=self.get_serializer_context())
        filled.is_valid(raise_exception=True)
        values: dict[str, Any] = filled.validated_data
        return values

    def write(self, shape: type[Any], row: Any, **options: Any) -> Any:
        """Return the document of ``row`` (or of rows, with ``many=True``)."""
        return shape(row, context=self.get_serializer_context(), **options).data

    def finalize_response(
        self, request: Request, response: Any, *args: Any, **kwargs: Any
    ) -> Response:
        done = super().finalize_response(request, response, *args, **kwargs)
        if done.status_code >= 400 and done.get("Content-Type", "") != problems.CONTENT_TYPE:
            done.content_type = problems.CONTENT_TYPE
        done.headers.setdefault("Cache-Control", "private, no-cache")
        for name, value in quota_headers(request).items():
            done[name] = value
        return done


def is_switched_on(request: Request, name: str) -> bool:
    """Return whether ``?name=true`` is there. Raises InvalidParameterError for another text."""
    text = request.query_params.get(name)
    if text not in (None, "true"):
        raise InvalidParameterError(
            f"{name} is not true.", remedy="Write true, or leave it out.", parameter=name
        )
    return text is not None


def _read_body(request: Request) -> None:
    """Parse now: the framework parses late, and a view that ignores the body would never know."""
    if request.method not in ("POST", "PUT", "PATCH", "DELETE"):
        return
    if not (request.content_type or "").startswith("multipart/"):
        _ = request._request.body  # keeps the bytes for the fingerprint; bounded by the settings
    data = request.data
    if request.method in ("PUT", "PATCH") and not hasattr(data, "keys"):
        raise ParseError("The body is not a JSON object.")
