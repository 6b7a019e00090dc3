"""Lengths as people write them on site, read exactly.

``units.parse_length`` is the public door. The grammar is ours on purpose: a general unit
library reads ``7 ft 8.5 in`` as a product, hence as an area, without complaint.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from contractor.engine.errors import InputError

MAX_TEXT = 64
MM_PER_INCH = Fraction(254, 10)
_METRIC_INCHES = {
    "mm": 1 / MM_PER_INCH,
    "cm": 10 / MM_PER_INCH,
    "m": 1000 / MM_PER_INCH,
}
_CHARACTERS = str.maketrans(
    {
        "\u2032": "'",
        "\u2019": "'",
        "\u2018": "'",
        "\u2033": '"',
        "\u201d": '"',
        "\u201c": '"',
        "\u2044": "/",
        "\u2212": "-",
        "\u2010": "-",
        "\u2011": "-",
        "\u2013": "-",
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
    }
)
_NUMBER = (
    r"(?:(?P<{0}whole>[0-9]+)(?:(?:\s*-\s*|\s+)(?P<{0}num>[0-9]+)\s*/\s*(?P<{0}den>[0-9]+))?"
    r"|(?P<{0}dec>[0-9]*\.[0-9]+)"
    r"|(?P<{0}top>[0-9]+)\s*/\s*(?P<{0}bottom>[0-9]+))"
)
_FEET = r"\s*(?:'|feet\b|foot\b|ft\b\.?|ft(?=[0-9.]))"
_INCHES = r"\s*(?:\"|inches\b|inch\b|in\b\.?)"
_LENGTH = re.compile(
    r"(?P<sign>-)?\s*(?:"
    rf"(?P<feet>{_NUMBER.format('f_')}{_FEET}(?:\s*-?\s*(?P<both>{_NUMBER.format('i_')}{_INCHES}))?)"
    rf"|(?P<inches>{_NUMBER.format('o_')}{_INCHES})"
    rf"|(?P<metric>{_NUMBER.format('m_')}\s*(?P<metric_unit>mm|cm|m)\b))\s*",
    re.IGNORECASE | re.ASCII,
)
_HAS_UNIT = re.compile(r"['\"]|[a-z]", re.IGNORECASE)
_REMEDY = "Write it as 7'-8 1/2\", 92.5 in, 7 ft 8 1/2 in or 2350 mm."


def _unreadable(pointer: str, reason: str) -> InputError:
    return InputError("length_not_readable", pointer, reason, _REMEDY)


def plain_text(text: str) -> str:
    """Return ``text`` with typographic marks, spaces and vulgar fractions as plain ASCII."""
    parts = []
    for character in text:
        decomposed = unicodedata.decomposition(character)
        if decomposed.startswith("<fraction>"):
            parts.append(" " + unicodedata.normalize("NFKC", character))
        else:
            parts.append(character)
    plain = "".join(parts).translate(_CHARACTERS).strip()
    return re.sub(r"''", '"', plain)


def _fraction(top: str, bottom: str, pointer: str) -> Fraction:
    if int(bottom) == 0:
        raise _unreadable(pointer, f"The fraction {top}/{bottom} divides by zero.")
    return Fraction(int(top), int(bottom))


def _number(match: re.Match[str], prefix: str, pointer: str) -> Fraction:
    """Return the number of one group family: whole, decimal, fraction or mixed."""
    if (decimal := match[f"{prefix}dec"]) is not None:
        return Fraction(f"0{decimal}")
    if match[f"{prefix}top"] is not None:
        return _fraction(match[f"{prefix}top"], match[f"{prefix}bottom"], pointer)
    whole = Fraction(int(match[f"{prefix}whole"]))
    if match[f"{prefix}num"] is None:
        return whole
    part = _fraction(match[f"{prefix}num"], match[f"{prefix}den"], pointer)
    if part >= 1:
        shown = f"{match[f'{prefix}num']}/{match[f'{prefix}den']}"
        raise _unreadable(pointer, f"{shown} is one or more beside a whole number.")
    return whole + part


def _feet_and_inches(match: re.Match[str], pointer: str) -> Fraction:
    feet = _number(match, "f_", pointer)
    if match["both"] is None:
        return feet * 12
    if match["f_dec"] or match["f_top"] or match["f_num"]:
        raise _unreadable(pointer, "Feet must be whole where inches follow.")
    inches = _number(match, "i_", pointer)
    if match["i_top"] is not None and inches >= 1:
        shown = f"{match['i_top']}/{match['i_bottom']}"
        raise _unreadable(pointer, f"{shown} is one or more beside whole feet.")
    if inches >= 12:
        raise _unreadable(pointer, "Inches beside feet must be below 12.")
    return feet * 12 + inches


def parse_inches(text: str, pointer: str) -> Fraction:
    """Return the inches that ``text`` means, exactly; raises InputError for anything unclear."""
    if len(text) > MAX_TEXT:
        raise _unreadable(pointer, f"A length has at most {MAX_TEXT} characters.")
    plain = plain_text(text)
    if not plain:
        raise _unreadable(pointer, "The length is empty.")
    match = _LENGTH.fullmatch(plain)
    if match is None:
        if not _HAS_UNIT.search(plain):
            raise _unreadable(pointer, f"{plain!r} has no unit.")
        raise _unreadable(pointer, f"{plain!r} is not one length.")
    if match["feet"] is not None:
        inches = _feet_and_inches(match, pointer)
    elif match["inches"] is not None:
        inches = _number(match, "o_", pointer)
    else:
        inches = _number(match, "m_", pointer) * _METRIC_INCHES[match["metric_unit"].lower()]
    return -inches if match["sign"] else inches


def is_metric(text: str) -> bool:
    """Return whether a readable ``text`` is written in a metric unit."""
    return re.search(r"m\s*$", plain_text(text), re.IGNORECASE) is not None
