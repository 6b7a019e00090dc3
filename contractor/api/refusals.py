"""Refusals that belong to HTTP itself, and the catalogue of every code that can be answered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from contractor.errors import DomainError


class PreconditionRequiredError(DomainError):
    code = "precondition_required"
    title = "The change needs an If-Match header"
    status = 428


class PreconditionFailedError(DomainError):
    code = "stale_version"
    title = "The record has changed since it was read"
    status = 412


class IdempotencyKeyMissingError(DomainError):
    code = "idempotency_key_missing"
    title = "The request needs an Idempotency-Key header"
    status = 400


class IdempotencyKeyInvalidError(DomainError):
    code = "idempotency_key_invalid"
    title = "The Idempotency-Key header cannot be used"
    status = 400


class IdempotencyKeyReusedError(DomainError):
    code = "idempotency_key_reused"
    title = "The Idempotency-Key belongs to another request"
    status = 422


class StillRunningError(DomainError):
    code = "still_running"
    title = "The first request with this key has not finished"
    status = 409
    retry_after_s = 2


class PayloadTooLargeError(DomainError):
    code = "payload_too_large"
    title = "The request body is too large"
    status = 413


class UnknownParameterError(DomainError):
    code = "unknown_parameter"
    title = "A query parameter is not known here"
    status = 400


class InvalidParameterError(DomainError):
    code = "invalid_parameter"
    title = "A query parameter has a value that cannot be used"
    status = 400


class InvalidCursorError(DomainError):
    code = "invalid_cursor"
    title = "The cursor cannot be read"
    status = 400


class ScopeMissingError(DomainError):
    code = "scope_missing"
    title = "The token does not carry the scope for this"
    status = 403


class RoleMissingError(DomainError):
    code = "role_missing"
    title = "Your role does not allow this"
    status = 403


class AlreadyThereError(DomainError):
    code = "already_there"
    title = "There is such a record already"


class BusyError(DomainError):
    """The database is held by others (SQLite) or broke the wait off (PostgreSQL)."""

    code = "busy"
    title = "The service is busy"
    status = 503
    retry_after_s = 2


@dataclass(frozen=True)
class ProblemType:
    code: str
    status: int
    title: str


FRAMEWORK: tuple[ProblemType, ...] = (
    ProblemType("invalid_input", 400, "The request has values that cannot be used"),
    ProblemType("malformed_body", 400, "The request body cannot be read"),
    ProblemType("bad_request", 400, "The request cannot be understood"),
    ProblemType("not_authenticated", 401, "The request needs a valid token or session"),
    ProblemType("forbidden", 403, "You may not do this"),
    ProblemType("not_found", 404, "No such record"),
    ProblemType("method_not_allowed", 405, "The method is not offered here"),
    ProblemType("not_acceptable", 406, "The format asked for is not offered"),
    ProblemType("unsupported_media_type", 415, "The format of the body is not read here"),
    ProblemType("internal_error", 500, "Something failed on our side"),
)


def catalogue() -> dict[str, ProblemType]:
    """Return every problem type by code, sorted; refusals of all installed apps included."""
    found = {entry.code: entry for entry in FRAMEWORK}
    for refusal in _descendants(DomainError):
        found.setdefault(refusal.code, ProblemType(refusal.code, refusal.status, refusal.title))
    return dict(sorted(found.items()))


def _descendants(parent: type[DomainError]) -> Iterator[type[DomainError]]:
    yield parent
    for child in parent.__subclasses__():
        yield from _descendants(child)
