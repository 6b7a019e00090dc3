"""Refusals that callers must expect: each has a stable code and an HTTP status."""

from __future__ import annotations

from typing import Any, ClassVar


class DomainError(Exception):
    """What was refused and why; ``remedy`` says what to do, ``facts`` carry the numbers.

    Subclasses set ``code`` (stable, snake_case), ``title`` and, where 409 is wrong, ``status``.
    """

    code: ClassVar[str] = "refused"
    title: ClassVar[str] = "The request was refused"
    status: ClassVar[int] = 409

    def __init__(self, detail: str, *, remedy: str = "", **facts: Any) -> None:
        super().__init__(detail)
        self.detail = detail
        self.remedy = remedy
        self.facts = facts


class WrongStateError(DomainError):
    code = "wrong_state"
    title = "The record is in a state that does not allow this"


class NotFoundError(DomainError):
    code = "not_found"
    title = "No such record"
    status = 404


class StaleVersionError(DomainError):
    code = "stale_version"
    title = "The record has changed since it was read"
    status = 412


class InvalidValueError(DomainError):
    """A value that only the database context can refuse (the shape was right)."""

    code = "invalid_value"
    title = "A value is not acceptable"
    status = 400
