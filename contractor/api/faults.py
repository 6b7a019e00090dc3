"""Carry remedy and sub-pointer of an InputError through the validation of the REST framework.

The framework rebuilds every error detail from its text and code, so a fault travels as text
with unit separators between its parts, and is taken apart again by ``problems``.
"""

from __future__ import annotations

from typing import Any

from rest_framework.exceptions import ErrorDetail, ValidationError

from contractor.engine.errors import InputError

_SEPARATOR = "\x1f"


def validation_error(error: InputError) -> ValidationError:
    """Return the framework's error for ``error``, whose pointer is relative to the field."""
    return fault(error.reason, code=error.code, remedy=error.remedy, below=error.pointer)


def fault(reason: str, *, code: str, remedy: str = "", below: str = "") -> ValidationError:
    """Return a validation error with a remedy; ``below`` is a pointer inside the field."""
    return ValidationError([_SEPARATOR.join((reason, remedy, below))], code=code)


def listed(detail: Any, pointer: str = "#") -> list[dict[str, str]]:
    """Return ``{"pointer", "detail", "code"[, "remedy"]}`` for every error in ``detail``."""
    if isinstance(detail, dict):
        return [
            entry
            for name, inner in detail.items()
            for entry in listed(inner, _below(pointer, str(name)))
        ]
    if isinstance(detail, list | tuple):
        if all(isinstance(inner, str) for inner in detail):
            return [_entry(inner, pointer) for inner in detail]
        return [
            entry
            for index, inner in enumerate(detail)
            for entry in listed(inner, _below(pointer, str(index)))
        ]
    return [_entry(detail, pointer)]


def _below(pointer: str, name: str) -> str:
    if name == "non_field_errors":
        return pointer
    return f"{pointer}/{name.replace('~', '~0').replace('/', '~1')}"


def _entry(detail: str, pointer: str) -> dict[str, str]:
    code = detail.code if isinstance(detail, ErrorDetail) and detail.code else "invalid"
    reason, _, rest = str(detail).partition(_SEPARATOR)
    remedy, _, below = rest.partition(_SEPARATOR)
    entry = {"pointer": pointer + below, "detail": reason, "code": code}
    return {**entry, "remedy": remedy} if remedy else entry
