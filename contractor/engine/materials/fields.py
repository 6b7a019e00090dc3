"""Reading members of posted documents: objects, texts, counts and cents, strictly."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, cast

from contractor.engine.errors import InputError


def read_object(value: object, pointer: str, allowed: Collection[str]) -> dict[str, Any]:
    """Return ``value`` as an object whose members are all in ``allowed``."""
    if not isinstance(value, dict):
        raise InputError("not_an_object", pointer, "An object is needed here.", "Post an object.")
    for key in sorted(str(name) for name in value):
        if key not in allowed:
            raise InputError(
                "unknown_member", f"{pointer}/{key}", f"There is no member {key!r}.", "Drop it."
            )
    return cast(dict[str, Any], value)


def read_schema(document: object, schema: str, pointer: str = "") -> None:
    found = document.get("schema") if isinstance(document, dict) else None
    if found != schema:
        raise InputError(
            "wrong_schema",
            f"{pointer}/schema",
            f"The document is not {schema}.",
            f'Set "schema" to "{schema}".',
        )


def read_list(value: object, pointer: str, most: int, least: int = 1) -> list[Any]:
    if not isinstance(value, list) or not least <= len(value) <= most:
        raise InputError(
            "not_a_list",
            pointer,
            f"A list of {least} to {most} entries is needed here.",
            "Post such a list.",
        )
    return value


def read_text(value: object, pointer: str, most: int = 200) -> str:
    if not isinstance(value, str) or not value.strip() or len(value) > most:
        raise InputError(
            "not_text", pointer, f"Text of 1 to {most} characters is needed.", "Write it."
        )
    return value


def read_choice(value: object, pointer: str, choices: Collection[str]) -> str:
    if value not in choices or not isinstance(value, str):
        raise InputError(
            "unknown_choice",
            pointer,
            f"{value!r} is not one of: {', '.join(sorted(choices))}.",
            "Choose one of them.",
        )
    return value


def read_count(value: object, pointer: str, most: int = 1_000_000, least: int = 0) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise InputError(
            "not_a_count",
            pointer,
            f"A whole number from {least} to {most} is needed.",
            "Count again.",
        )
    return value


def read_hours(value: object, pointer: str, most: float = 1000.0) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= most:
        raise InputError(
            "not_a_number", pointer, f"A number from 0 to {most:g} is needed.", "Give it."
        )
    return float(value)


def read_optional_text(value: object, pointer: str, most: int = 200) -> str | None:
    return None if value is None else read_text(value, pointer, most)


def read_texts(value: object, pointer: str, most: int = 500) -> tuple[str, ...]:
    """Return a list of texts; None counts as empty."""
    rows = [] if value is None else read_list(value, pointer, most, least=0)
    return tuple(read_text(row, f"{pointer}/{i}") for i, row in enumerate(rows))
