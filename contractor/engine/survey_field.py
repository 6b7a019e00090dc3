"""One value inside a survey document, with its JSON pointer: every reading checks and explains."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from contractor.engine.errors import InputError
from contractor.engine.units import (
    TICKS_PER_INCH,
    format_length,
    nearest_tick,
    read_exact_length,
    read_length_exact,
    read_quantity,
)

FOOT = 12 * TICKS_PER_INCH
LONGEST_WALL = 500 * FOOT
TALLEST_WALL = 20 * FOOT
LONGEST_LIST = 500
LONGEST_TEXT = 120


class Field:
    """A value of the document; ``rounded`` collects pointers of lengths kept to a tick."""

    def __init__(self, value: Any, pointer: str, rounded: list[str]) -> None:
        self.value = value
        self.pointer = pointer
        self.rounded = rounded

    def refuse(self, code: str, reason: str, remedy: str) -> InputError:
        return InputError(code, self.pointer, reason, remedy)

    @property
    def is_unknown(self) -> bool:
        """Whether the value is null or left out."""
        return self.value is None

    # ------------------------------------------------------------ structure

    def check_members(self, known: Sequence[str], required: Sequence[str] = ()) -> None:
        """Refuse anything but an object with ``known`` members, the ``required`` ones not null."""
        if not isinstance(self.value, dict):
            raise self.refuse(
                "not_an_object", "This must be an object.", f"Give {', '.join(known)}."
            )
        for name in sorted(str(key) for key in self.value if key not in known):
            raise self._child(name).refuse(
                "unknown_member",
                f"There is no member {name[:LONGEST_TEXT]!r} here.",
                f"Use one of: {', '.join(known)}.",
            )
        for name in required:
            if self.value.get(name) is None:
                raise self._child(name).refuse(
                    "missing", "This is needed and cannot be left unknown.", "Add it to the survey."
                )

    def _child(self, key: str | int) -> Field:
        token = str(key).replace("~", "~0").replace("/", "~1")
        value = self.value[key] if isinstance(key, int) else self.value.get(key)
        return Field(value, f"{self.pointer}/{token}", self.rounded)

    def __getitem__(self, name: str) -> Field:
        return self._child(name)

    def items(self) -> list[Field]:
        """Return the entries of a list; unknown counts as empty."""
        if self.value is None:
            return []
        if not isinstance(self.value, list):
            raise self.refuse("not_a_list", "This must be a list.", "Give a list, or leave it out.")
        if len(self.value) > LONGEST_LIST:
            raise self.refuse(
                "list_too_long",
                f"There are {len(self.value)} entries; at most {LONGEST_LIST} are read.",
                "Survey the wall in parts.",
            )
        return [self._child(index) for index in range(len(self.value))]

    # ------------------------------------------------------------ plain values

    def text(self, *, default: str | None = None) -> str:
        if self.value is None and default is not None:
            return default
        if not isinstance(self.value, str) or not self.value.strip():
            raise self.refuse("not_text", "This must be text.", "Write a word or two.")
        plain = " ".join(self.value.split())
        if len(plain) > LONGEST_TEXT or not plain.isprintable():
            raise self.refuse(
                "text_not_usable",
                f"The text is longer than {LONGEST_TEXT} characters or holds control characters.",
                "Shorten it to plain words.",
            )
        return plain

    def choice(self, choices: Sequence[str], *, code: str = "unknown_choice") -> str:
        if not isinstance(self.value, str) or self.value not in choices:
            shown = repr(self.value)[:LONGEST_TEXT]
            raise self.refuse(code, f"{shown} is not known here.", f"Use: {', '.join(choices)}.")
        return self.value

    def choice_or_unknown(self, choices: Sequence[str], *, code: str) -> str | None:
        return None if self.value is None else self.choice(choices, code=code)

    def flag(self) -> bool | None:
        if self.value is None or isinstance(self.value, bool):
            return self.value
        raise self.refuse("not_a_flag", "This must be true, false or null.", "Write true or false.")

    # ------------------------------------------------------------ quantities

    def length(self, *, least: int = 1, most: int | None = None) -> int:
        """Return ticks within ``least`` .. ``most``; metric lengths go to the nearest tick."""
        length = read_length_exact(self.value, self.pointer)
        if not length.is_exact:
            self.rounded.append(self.pointer)
        self._check_range(length.ticks, least, most)
        return length.ticks

    def length_or_unknown(self, *, least: int = 1, most: int | None = None) -> int | None:
        return None if self.value is None else self.length(least=least, most=most)

    def mark(self, *, least: int = 0, most: int | None = None) -> Fraction:
        """Return inches exactly, for layout marks such as 19.2 in that no tape shows."""
        inches = read_exact_length(self.value, self.pointer)
        ticks = nearest_tick(inches)
        # Only a metric length has 127 below the line (1 in = 254/10 mm): say that it is rounded.
        if inches.denominator % 127 == 0:
            self.rounded.append(self.pointer)
        self._check_range(ticks, least, most)
        return inches

    def _check_range(self, ticks: int, least: int, most: int | None) -> None:
        if ticks < least:
            reason = "is not above zero" if least == 1 else f"is below {format_length(least)}"
            raise self.refuse(
                "length_too_small", f"{format_length(ticks, 64)} {reason}.", "Measure again."
            )
        if most is not None and ticks > most:
            raise self.refuse(
                "length_too_large",
                f"{format_length(ticks, 64)} is more than {format_length(most)}.",
                "Check the number and the unit.",
            )

    def quantity(self, unit: str, *, least: float, most: float) -> float:
        value = read_quantity(self.value, unit, self.pointer)
        if not least <= value <= most:
            raise self.refuse(
                "quantity_out_of_range",
                f"{value:g} {unit} is outside {least:g} to {most:g} {unit}.",
                "Check the number and the unit.",
            )
        return value
