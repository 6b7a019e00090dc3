"""The one door for units: lengths as whole 64ths of an inch, other quantities as plain floats.

Documents carry ``{"value", "unit", "text"}``; inside, names end in ``_ticks`` or carry the unit.
Text with feet and inches is read by our own parser (``length_text``), never by the unit library.
Conversion factors come from one pint registry, made on first use.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from contractor.engine.data.units import BASE, DISPLAY
from contractor.engine.errors import InputError
from contractor.engine.length_text import is_metric, parse_inches
from contractor.engine.quantity_document import (
    known_unit,
    split_text,
    value_and_unit,
    wrong_unit,
)

if TYPE_CHECKING:
    from pint import UnitRegistry

System = Literal["us", "si"]
TICKS_PER_INCH = 64
TICKS_PER_SIXTEENTH = 4
MAX_INCHES = 12 * 5280  # one mile: longer is a typing error on any wall
_TAPE_UNITS = ("in", "ft", "mm", "cm", "m")
_DEFINITIONS = (
    "psf = lbf / foot ** 2",
    "tsf = 2000 * psf",
    "plf = lbf / foot",
    "klf = 1000 * plf",
    "pcf = pound / foot ** 3",
)


@lru_cache(maxsize=1)
def registry() -> UnitRegistry[Any]:
    """Return the one registry; pint is imported here so that the engine imports quickly."""
    import pint

    made: UnitRegistry[Any] = pint.UnitRegistry(cache_folder=None)
    for line in _DEFINITIONS:
        made.define(line)
    return made


def Q(value: float, unit: str) -> Any:  # noqa: N802 - the name every caller knows
    """Return a pint Quantity of the one registry. ``pcf`` is a mass density here."""
    return registry().Quantity(value, unit)


@lru_cache(maxsize=512)
def factor(from_unit: str, to_unit: str) -> float:
    """Return how many ``to_unit`` one ``from_unit`` is (our own unit spellings or pint's)."""
    return float(Q(1.0, _pint_spelling(from_unit)).to(_pint_spelling(to_unit)).magnitude)


def _pint_spelling(unit: str) -> str:
    return BASE[unit].pint if unit in BASE else unit


# ---------------------------------------------------------------- lengths


@dataclass(frozen=True)
class Length:
    """A length in ticks; ``is_exact`` is False where a metric length was rounded to a tick."""

    ticks: int
    is_exact: bool


def nearest_tick(inches: Fraction) -> int:
    """Return ``inches`` in ticks, halves away from zero."""
    return _round_half_away(inches * TICKS_PER_INCH)


def _round_half_away(value: Fraction) -> int:
    size = math.floor(abs(value) + Fraction(1, 2))
    return size if value >= 0 else -size


def parse_length(text: str, pointer: str = "") -> Fraction:
    """Return the inches that ``text`` means, exactly. Raises InputError.

    >>> parse_length("7'-8 1/2\\"")
    Fraction(185, 2)
    """
    return parse_inches(text, pointer)


def read_exact_length(value: object, pointer: str) -> Fraction:
    """Return inches, exactly, of a JSON value: text, or ``{"value", "unit"}``.

    Raises InputError for bare numbers, unknown units, values that are not finite or longer
    than a mile.
    """
    return _read_inches(value, pointer)[0]


def _read_inches(value: object, pointer: str) -> tuple[Fraction, bool]:
    """Return (inches, whether written in metric)."""
    if isinstance(value, str):
        inches, metric = parse_inches(value, pointer), is_metric(value)
    else:
        number, unit_text = value_and_unit(value, pointer, "length", "7'-8 1/2\" or 2350 mm")
        unit = known_unit(unit_text, "length", pointer)
        if unit not in _TAPE_UNITS:
            raise wrong_unit(pointer, unit_text, "a length on a wall", _TAPE_UNITS)
        metric = unit not in ("in", "ft")
        inches = number * {"in": Fraction(1), "ft": Fraction(12)}.get(unit, _metric_inches(unit))
    if abs(inches) > MAX_INCHES:
        raise InputError(
            "length_out_of_range", pointer, "The length is more than a mile.", "Check the unit."
        )
    return inches, metric


def _metric_inches(unit: str) -> Fraction:
    return {"mm": Fraction(10), "cm": Fraction(100), "m": Fraction(10000)}.get(
        unit, Fraction(0)
    ) / Fraction(254)


def read_length_exact(value: object, pointer: str) -> Length:
    """Return a length of a JSON value, and whether it is exact.

    A metric length is kept to the nearest tick. A feet-inches length finer than 1/64 in is
    refused, for no tape shows it.
    """
    inches, metric = _read_inches(value, pointer)
    ticks = nearest_tick(inches)
    exact = inches * TICKS_PER_INCH == ticks
    if not exact and not metric:
        raise InputError(
            "length_too_fine",
            pointer,
            f"{float(inches):g} in lies between two marks of a tape (1/64 in).",
            f"Give the nearest mark: {format_length(ticks, 64)}.",
        )
    return Length(ticks, exact)


def read_length(value: object, pointer: str) -> int:
    """Return a length in ticks; see ``read_length_exact``."""
    return read_length_exact(value, pointer).ticks


def format_inches(inches: Fraction, denominator: int = 16) -> str:
    """Return feet-inches text, rounded half away from zero on the total, then split.

    >>> format_inches(Fraction(383, 32))
    '1\\'-0"'
    """
    parts = _round_half_away(inches * denominator)
    sign = "-" if parts < 0 else ""
    whole, rest = divmod(abs(parts), denominator)
    feet, single = divmod(whole, 12)
    if rest == 0:
        return f"{sign}{feet}'-{single}\""
    fraction = Fraction(rest, denominator)
    return f"{sign}{feet}'-{single} {fraction.numerator}/{fraction.denominator}\""


def format_length(ticks: int, denominator: int = 16) -> str:
    """Return ``ticks`` as feet, inches and a reduced fraction, such as ``7'-8 1/2"``."""
    return format_inches(Fraction(ticks, TICKS_PER_INCH), denominator)


def floor_to_sixteenth(ticks: int) -> int:
    """Return ``ticks`` rounded down to a whole 1/16 in: a cut piece must never be long."""
    return ticks // TICKS_PER_SIXTEENTH * TICKS_PER_SIXTEENTH


def write_length(ticks: int, system: System = "us") -> dict[str, Any]:
    """Return a length document: inches with feet-inches text, or millimetres.

    The value is exact in either system (one tick is 0.396875 mm).
    """
    if system == "us":
        return {"value": ticks / TICKS_PER_INCH, "unit": "in", "text": format_length(ticks)}
    millimetres = float(Fraction(ticks * 127, 320))
    shown = _round_half_away(Fraction(ticks * 127, 32))
    sign, (whole, tenth) = "-" if shown < 0 else "", divmod(abs(shown), 10)
    text = f"{sign}{whole}.{tenth} mm" if tenth else f"{sign}{whole} mm"
    return {"value": millimetres, "unit": "mm", "text": text}


def to_ticks(length: Any) -> int:
    """Return a length Quantity in ticks, refusing what no tape measure shows."""
    inches = Fraction(str(float(length.to("inch").magnitude)))
    ticks = nearest_tick(inches)
    if abs(inches * TICKS_PER_INCH - ticks) > Fraction(1, 10**6):
        raise InputError(
            "length_too_fine",
            "",
            f"{length} lies between two marks of a tape (1/64 in).",
            f"Give the nearest mark: {format_length(ticks, 64)}.",
        )
    return ticks


def to_quantity(ticks: int) -> Any:
    """Return ``ticks`` as a length Quantity in inches."""
    return Q(ticks / TICKS_PER_INCH, "inch")


# ---------------------------------------------------------------- other quantities


def read_quantity(value: object, unit: str, pointer: str) -> float:
    """Return a JSON value (text such as ``60 psf/ft``, or ``{"value", "unit"}``) in ``unit``.

    ``unit`` is a spelling of ``engine.data.units``. Raises InputError for bare numbers,
    unknown units, units of another dimension and values that are not finite.
    """
    base = BASE[unit]
    if base.dimension == "length" and isinstance(value, str):
        return float(read_exact_length(value, pointer)) * factor("in", unit)
    number, unit_text = (
        split_text(value, unit, pointer)
        if isinstance(value, str)
        else value_and_unit(value, pointer, base.dimension, f"12 {unit}")
    )
    given = known_unit(unit_text, base.dimension, pointer)
    return float(number) * (1.0 if given == unit else factor(given, unit))


def write_quantity(value: float, unit: str, system: System = "us") -> dict[str, Any]:
    """Return a quantity document in the caller's system; ``text`` has four digits.

    ``unit`` is what ``value`` is in; ``engine.data.units.DISPLAY`` says what si readers see.
    """
    if not math.isfinite(value):
        raise ValueError(f"a quantity in {unit} is not finite")
    shown_unit = unit if system == "us" else DISPLAY[unit]
    shown = value * factor(unit, shown_unit) if shown_unit != unit else value
    shown = float(f"{shown:.12g}") + 0.0
    return {"value": shown, "unit": shown_unit, "text": f"{_four_digits(shown)} {shown_unit}"}


def _four_digits(value: float) -> str:
    if value == 0:
        return "0"
    decimals = max(0, 3 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
