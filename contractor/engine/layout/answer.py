"""A brace layout as plain values; lengths in ticks, positions from the wall's left corner."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from contractor.engine.units import TICKS_PER_INCH, System, format_length, write_length

Side = Literal["left", "right"]
Basis = Literal["provisional", "measured"]
LimitFrom = Literal["rule", "screening"]
_FOOT = 12 * TICKS_PER_INCH


@dataclass(frozen=True)
class Remark:
    """A sentence whose lengths are shown in the reader's units: words (str) and ticks (int)."""

    parts: tuple[str | int, ...]

    def text(self, system: System = "us") -> str:
        return "".join(
            part if isinstance(part, str) else show_length(part, system) for part in self.parts
        )

    def __str__(self) -> str:
        return self.text()


def show_length(ticks: int, system: System) -> str:
    """Return a length for a sentence: below one foot in inches, else feet and inches, or mm."""
    if system == "si":
        return str(write_length(ticks, system)["text"])
    if abs(ticks) >= _FOOT:
        return format_length(ticks)
    inches = format_length(ticks).replace("0'-", "").replace('"', " in")
    return re.sub(r"^(-?)0 (?=[0-9])", r"\1", inches)


@dataclass(frozen=True)
class Brace:
    """``joist`` counts from 1 at the left corner; it and ``side`` are None on parallel joists.

    ``specials`` are the labels of what must be moved, taken off or furred over for this brace.
    """

    mark: str
    at_ticks: int
    joist: int | None
    side: Side | None
    specials: tuple[str, ...]
    furring_layers: int
    beam_length_ticks: int
    basis: Basis
    because: tuple[Remark, ...]


@dataclass(frozen=True)
class NoAnswer:
    """Why no layout exists: the stretch that cannot be bridged, and what would help.

    Each entry of ``would_help`` is one change that was solved again and found to suffice.
    """

    from_ticks: int
    to_ticks: int
    largest_gap_ticks: int
    would_help: tuple[Remark, ...]


@dataclass(frozen=True)
class Layout:
    """``largest_spacing_ticks`` is None where there are fewer than two braces."""

    braces: tuple[Brace, ...]
    spacing_limit_ticks: int
    spacing_limit_from: LimitFrom
    no_answer: NoAnswer | None = None

    @property
    def spacings_ticks(self) -> tuple[int, ...]:
        places = [brace.at_ticks for brace in self.braces]
        return tuple(right - left for left, right in pairwise(places))

    @property
    def largest_spacing_ticks(self) -> int | None:
        return max(self.spacings_ticks, default=None)

    @property
    def special_count(self) -> int:
        return sum(len(brace.specials) for brace in self.braces)
