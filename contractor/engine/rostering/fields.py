"""Reading JSON with a pointer in hand, so that every refusal names its place."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from contractor.engine.errors import InputError


@dataclass(frozen=True)
class Field:
    """One value of a document and the JSON pointer that leads to it."""

    value: object
    pointer: str = ""

    def refuse(self, code: str, reason: str, remedy: str) -> InputError:
        return InputError(code, self.pointer or "/", reason, remedy)

    def __getitem__(self, name: str) -> Field:
        if not isinstance(self.value, dict):
            raise self.refuse("not_an_object", "This must be an object.", "Write {...} here.")
        if name not in self.value:
            raise Field(None, f"{self.pointer}/{name}").refuse(
                "missing_field", f"The field {name!r} is missing.", f"Add {name!r}."
            )
        return Field(self.value[name], f"{self.pointer}/{_escaped(name)}")

    def get(self, name: str) -> Field | None:
        """The named member, or None where it is absent or null."""
        if not isinstance(self.value, dict):
            raise self.refuse("not_an_object", "This must be an object.", "Write {...} here.")
        return self[name] if self.value.get(name) is not None else None

    def items(self) -> Iterator[tuple[str, Field]]:
        if not isinstance(self.value, dict):
            raise self.refuse("not_an_object", "This must be an object.", "Write {...} here.")
        for name, value in self.value.items():
            yield str(name), Field(value, f"{self.pointer}/{_escaped(str(name))}")

    def list(self) -> list[Field]:
        if not isinstance(self.value, list):
            raise self.refuse("not_a_list", "This must be a list.", "Write [...] here.")
        return [Field(value, f"{self.pointer}/{i}") for i, value in enumerate(self.value)]

    def text(self) -> str:
        if not isinstance(self.value, str) or not self.value:
            raise self.refuse("not_text", "This must be a non-empty text.", 'Write "..." here.')
        return self.value

    def one_of(self, allowed: tuple[str, ...]) -> str:
        if self.value not in allowed:
            names = ", ".join(allowed)
            raise self.refuse(
                "unknown_word", f"{self.value!r} is none of: {names}.", f"Use one of {names}."
            )
        return str(self.value)

    def number(
        self, *, least: float = -math.inf, above: float = -math.inf, most: float = 1e12
    ) -> float:
        """A finite number; ``least`` and ``most`` are allowed themselves, ``above`` is not."""
        value = self.value
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.refuse("not_a_number", f"{value!r} is not a number.", "Write a number.")
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number) or number > most or number < -1e12:
            raise self.refuse(
                "number_out_of_range", f"{value!r} is above {most:g}.", "Write a smaller number."
            )
        if number < least or number <= above:
            floor = f"at least {least:g}" if least > above else f"above {above:g}"
            raise self.refuse(
                "number_out_of_range", f"{value!r} must be {floor}.", f"Write a number {floor}."
            )
        return number

    def whole(self, *, least: int = 0, most: int = 10**9) -> int:
        value = self.value
        if isinstance(value, bool) or not isinstance(value, int):
            raise self.refuse("not_whole", f"{value!r} is no whole number.", "Write an integer.")
        if not least <= value <= most:
            raise self.refuse(
                "number_out_of_range",
                f"{value!r} is outside {least} to {most}.",
                f"Write a whole number from {least} to {most}.",
            )
        return value

    def day(self) -> date:
        try:
            if not isinstance(self.value, str) or len(self.value) != len("2026-05-04"):
                raise ValueError
            return date.fromisoformat(self.value)
        except ValueError:
            raise self.refuse(
                "not_a_date", f"{self.value!r} is not a date.", "Write YYYY-MM-DD."
            ) from None


def _escaped(name: str) -> str:
    """``name`` as a reference token of RFC 6901 (JSON Pointer), section 3."""
    return name.replace("~", "~0").replace("/", "~1")
