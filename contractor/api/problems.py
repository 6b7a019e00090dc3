"""Problem details (RFC 9457): every refusal under /api/ leaves through here."""

from __future__ import annotations

import logging
import uuid
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.db import OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from rest_framework import exceptions
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import set_rollback

from contractor.api import faults, refusals
from contractor.engine.errors import InputError
from contractor.errors import DomainError

log = logging.getLogger(__name__)
CONTENT_TYPE = "application/problem+json"
TYPE_ROOT = "/api/v1/problems/"
_FRAMEWORK_CODES: dict[type[exceptions.APIException], str] = {
    exceptions.ParseError: "malformed_body",
    exceptions.NotAuthenticated: "not_authenticated",
    exceptions.AuthenticationFailed: "not_authenticated",
    exceptions.PermissionDenied: "forbidden",
    exceptions.NotFound: "not_found",
    exceptions.MethodNotAllowed: "method_not_allowed",
    exceptions.NotAcceptable: "not_acceptable",
    exceptions.UnsupportedMediaType: "unsupported_media_type",
}
_STATUS_CODES = {entry.status: entry for entry in refusals.FRAMEWORK}
_STATUS_CODES[400] = refusals.ProblemType("bad_request", 400, "The request cannot be understood")
_REMEDIES = {
    "not_authenticated": "Send 'Authorization: Bearer <token>', or sign in.",
    "not_found": "Check the address; a record of another branch is not shown either.",
    "method_not_allowed": "The Allow header lists the methods offered here.",
    "not_acceptable": "Ask for application/json.",
    "unsupported_media_type": "Send application/json.",
    "internal_error": "Try again; if it stays, report the incident number.",
}


def problem(
    code: str, status: int, title: str, detail: str, *, instance: str, **more: Any
) -> dict[str, Any]:
    """Return the members of one problem document; empty extensions are left out."""
    return {
        "type": TYPE_ROOT + code,
        "title": title,
        "status": status,
        "detail": detail,
        "instance": instance,
        "code": code,
        **{name: value for name, value in more.items() if value not in ("", None, [], {})},
    }


def exception_handler(error: Exception, context: dict[str, Any]) -> Response | None:
    """Turn expected refusals into problem documents; None (500) for what nobody expected."""
    request: Request = context["request"]
    found = _document(error, request.path)
    if found is None:
        return None
    document, headers = found
    set_rollback()
    return Response(document, status=document["status"], headers=headers, content_type=CONTENT_TYPE)


def document_of(error: Exception, path: str) -> dict[str, Any] | None:
    """Return the problem document of an expected refusal; None for what nobody expected."""
    found = _document(error, path)
    return found[0] if found else None


def _document(error: Exception, path: str) -> tuple[dict[str, Any], dict[str, str]] | None:
    if isinstance(error, DomainError):
        return refusal_document(error, path), _retry_header(error)
    if isinstance(error, InputError):
        return input_document(faults.listed(faults.validation_error(error).detail), path), {}
    if isinstance(error, exceptions.ValidationError):
        return input_document(faults.listed(error.detail), path), {}
    if isinstance(error, RequestDataTooBig):
        return refusal_document(refusals.PayloadTooLargeError("The body is too large."), path), {}
    if isinstance(error, OperationalError) and _is_busy(error):
        log.warning("database busy at %s: %s", path, error)
        busy = refusals.BusyError("The database did not answer in time.", remedy="Try again.")
        return refusal_document(busy, path), _retry_header(busy)
    return _framework_document(error, path)


def _is_busy(error: OperationalError) -> bool:
    text = str(error)
    return any(mark in text for mark in ("locked", "timeout", "deadlock", "connection"))


def refusal_document(error: DomainError, path: str) -> dict[str, Any]:
    """Return the problem document of an expected refusal; facts become extension members."""
    facts = {name: value for name, value in error.facts.items() if name not in _RESERVED}
    return problem(
        error.code,
        error.status,
        error.title,
        error.detail,
        instance=path,
        remedy=error.remedy,
        **facts,
    )


_RESERVED = frozenset({"type", "title", "status", "detail", "instance", "code", "remedy"})


def _retry_header(error: DomainError) -> dict[str, str]:
    seconds = getattr(error, "retry_after_s", None)
    return {"Retry-After": str(seconds)} if seconds else {}


def input_document(errors: list[dict[str, str]], path: str) -> dict[str, Any]:
    """Return the problem document of wrong values, each with its pointer."""
    first = errors[0]
    more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
    return problem(
        "invalid_input",
        400,
        "The request has values that cannot be used",
        f"{first['pointer']}: {first['detail']}{more}",
        instance=path,
        remedy=first.get("remedy", "Correct what 'errors' lists and send the request again."),
        errors=errors,
    )


def _framework_document(
    error: Exception, path: str
) -> tuple[dict[str, Any], dict[str, str]] | None:
    if isinstance(error, Http404):
        error = exceptions.NotFound()
    elif isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    if not isinstance(error, exceptions.APIException):
        return None
    code = next((c for kind, c in _FRAMEWORK_CODES.items() if isinstance(error, kind)), None)
    entry = refusals.catalogue()[code or _STATUS_CODES[error.status_code].code]
    detail = _STATIC_DETAILS.get(entry.code) or str(error.detail)
    document = problem(
        entry.code,
        error.status_code,
        entry.title,
        detail,
        instance=path,
        remedy=_REMEDIES.get(entry.code, ""),
        **getattr(error, "facts", {}),
    )
    return document, _framework_headers(error)


_STATIC_DETAILS = {
    "not_found": "There is no such record, or it is not yours to see.",
    "not_acceptable": "None of the formats in the Accept header is offered here.",
}


def _framework_headers(error: exceptions.APIException) -> dict[str, str]:
    headers: dict[str, str] = {}
    if auth_header := getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = auth_header
    return headers


def plain_response(
    request: HttpRequest, status: int, *, code: str = "", detail: str = "", remedy: str = ""
) -> HttpResponse:
    """Return a problem response for what never reached a view: unknown URL, bad host, 500."""
    entry = (
        refusals.catalogue()[code]
        if code
        else _STATUS_CODES.get(status, refusals.ProblemType("refused", status, "Refused"))
    )
    more: dict[str, Any] = {"remedy": remedy or _REMEDIES.get(entry.code, "")}
    detail = detail or _STATIC_DETAILS.get(entry.code, entry.title + ".")
    if status >= 500:
        more["incident"] = uuid.uuid4().hex[:12]
        log.error("incident %s: %s %s", more["incident"], request.method, request.path)
    body = problem(entry.code, status, entry.title, detail, instance=request.path, **more)
    return HttpResponse(JSONRenderer().render(body), status=status, content_type=CONTENT_TYPE)
