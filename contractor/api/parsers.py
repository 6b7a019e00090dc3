"""Read JSON bodies strictly: bounded, finite numbers, 64-bit integers, storable text."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import IO, Any, NoReturn

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

MAX_INTEGER = 2**63 - 1
MAX_DEPTH = 60


class StrictJSONParser(JSONParser):
    """JSON as RFC 8259 has it; what a database or a solver could choke on is refused here."""

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        try:
            text = stream.read().decode("utf-8")
        except UnicodeDecodeError as error:
            raise ParseError("The body is not UTF-8 text.") from error
        return read_json(text)


def read_json(text: str) -> Any:
    """Return the value of ``text``; raises ParseError with the place of the first fault."""
    try:
        value = json.loads(
            text,
            parse_constant=_refuse_constant,
            parse_float=_finite,
            parse_int=_bounded,
            object_pairs_hook=_unique_members,
        )
    except json.JSONDecodeError as error:
        raise ParseError(f"The body is not JSON: line {error.lineno}, column {error.colno}.") from (
            error
        )
    except RecursionError as error:
        raise ParseError("The body is nested too deeply.") from error
    if "\\u" in text and not _is_storable(value):
        raise ParseError("The body holds a NUL character or half of a surrogate pair.")
    if not _is_shallow(value, MAX_DEPTH):
        raise ParseError(f"The body is nested deeper than {MAX_DEPTH} levels.")
    return value


def _refuse_constant(name: str) -> NoReturn:
    raise ParseError(f"{name} is not JSON.")


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ParseError("A number in the body is too large.")
    return number


def _bounded(text: str) -> int:
    if len(text) > 20 or abs(int(text)) > MAX_INTEGER:
        raise ParseError("A whole number in the body is too large.")
    return int(text)


def _unique_members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise ParseError("An object in the body names a member twice.")
    return members


def _is_storable(value: Any) -> bool:
    text = json.dumps(value, ensure_ascii=False)
    if "\\u0000" in text:
        return False
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _is_shallow(value: Any, levels: int) -> bool:
    if not isinstance(value, dict | list):
        return True
    inner = value.values() if isinstance(value, dict) else value
    return levels > 0 and all(_is_shallow(item, levels - 1) for item in inner)
