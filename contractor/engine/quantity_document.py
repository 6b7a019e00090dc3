"""A quantity as a document carries it, taken apart: an exact number and a known unit.

``units`` is the public door; here are the refusals that lengths and other quantities share.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from contractor.engine.data.units import ALIASES, BASE
from contractor.engine.errors import InputError
from contractor.engine.length_text import MAX_TEXT

DIGITS = 15
LARGEST_NUMBER = 10**DIGITS
_QUANTITY = re.compile(r"(-?[0-9]*\.?[0-9]+)\s*([^\s0-9.].*)", re.ASCII)


def value_and_unit(value: object, pointer: str, what: str, example: str) -> tuple[Fraction, str]:
    """Return number and unit text of a ``{"value", "unit"}`` object; "text" is ignored."""
    name = what.replace("_", " ")
    if isinstance(value, int | float | Decimal) and not isinstance(value, bool):
        raise InputError(
            "quantity_without_unit",
            pointer,
            "A bare number has no unit.",
            f"Write the {name} with its unit, such as {example}.",
        )
    if not isinstance(value, dict) or not {"value", "unit"} <= set(value):
        raise InputError(
            "quantity_malformed",
            pointer,
            f"A {name} is text with a unit, or an object with value and unit.",
            f"Write it such as {example}.",
        )
    if extra := sorted(str(key) for key in set(value) - {"value", "unit", "text"}):
        raise InputError(
            "unknown_member", f"{pointer}/{extra[0]}", "A quantity has no such member.", "Drop it."
        )
    if not isinstance(value["unit"], str):
        raise InputError(
            "quantity_malformed", f"{pointer}/unit", "The unit is not text.", "Write the unit."
        )
    return finite_number(value["value"], f"{pointer}/value"), value["unit"]


def finite_number(number: object, pointer: str) -> Fraction:
    """Return a JSON number exactly as its decimal digits say."""
    if isinstance(number, bool) or not isinstance(number, int | float | Decimal):
        raise InputError("not_a_number", pointer, "The value is not a number.", "Give a number.")
    if isinstance(number, Decimal):
        is_usable = number.is_finite() and abs(number.adjusted()) <= DIGITS
    else:
        is_usable = abs(number) <= LARGEST_NUMBER  # nan compares false
    if not is_usable:
        raise InputError(
            "number_out_of_range",
            pointer,
            "The value is not a finite number of a usable size.",
            "Give the measured value.",
        )
    return Fraction(number) if isinstance(number, int) else Fraction(str(number))


def split_text(text: str, unit: str, pointer: str) -> tuple[Fraction, str]:
    """Return number and unit text of ``60 psf/ft``; plain decimal digits only."""
    plain = text.strip().replace("\u2212", "-").replace("\u00a0", " ")
    match = _QUANTITY.fullmatch(plain) if len(text) <= MAX_TEXT else None
    if match is None:
        raise InputError(
            "quantity_not_readable",
            pointer,
            f"{text[:MAX_TEXT]!r} is not a number and a unit.",
            f"Write it such as 12 {unit}.",
        )
    return finite_number(Decimal(match[1]), pointer), match[2]


def known_unit(text: str, dimension: str, pointer: str) -> str:
    """Return our spelling of a unit that has ``dimension``."""
    key = _unit_key(text)
    known = ALIASES[dimension]
    if key in known:
        return known[key]
    spellings = sorted(name for name, base in BASE.items() if base.dimension == dimension)
    raise wrong_unit(pointer, text, f"a {dimension.replace('_', ' ')}", spellings)


def _unit_key(text: str) -> str:
    raised = text.strip().translate(str.maketrans("²³⁴·⋅*-_", "234     "))
    return " ".join(raised.replace("^", "").replace(" / ", "/").lower().split())


def wrong_unit(pointer: str, text: str, what: str, spellings: Iterable[str]) -> InputError:
    return InputError(
        "quantity_wrong_unit",
        pointer,
        f"{text[:MAX_TEXT]!r} is no unit of {what}.",
        f"Use one of: {', '.join(spellings)}.",
    )
