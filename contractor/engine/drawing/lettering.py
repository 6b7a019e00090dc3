"""How wide words are, wrapped lines, and places for labels that do not overlap."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

#: Advance widths in em of a common sans serif, by kind of letter, rounded up. Good to a few
#: per cent, which is all that keeping labels apart needs.
_NARROW = set("ijl.,:;'|!`")
_SLIM = set('ftrI()[]{}/\\-" \u00a0')
_WIDE = set("mwMW%@—")
_CAPITALS = set("ABCDEFGHJKLNOPQRSTUVXYZ&")


@lru_cache(maxsize=8192)
def _width_em(words: str) -> float:
    return sum(_letter_em(letter) for letter in words)


def _letter_em(letter: str) -> float:
    if letter in _NARROW:
        return 0.26
    if letter in _SLIM:
        return 0.36
    if letter in _WIDE:
        return 0.9
    return 0.71 if letter in _CAPITALS else 0.565


def text_width(words: str, size: float) -> float:
    """Return the width of ``words`` at a font size of ``size``, in the same unit."""
    return _width_em(words) * size


def wrap(words: str, size: float, width: float) -> list[str]:
    """Return ``words`` broken into lines no wider than ``width`` (a single long word may be)."""
    lines: list[str] = []
    line = ""
    for word in words.split(" "):
        longer = f"{line} {word}" if line else word
        if line and text_width(longer, size) > width:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def lies_in(self, other: Box) -> bool:
        return (
            other.left <= self.left
            and self.right <= other.right
            and other.top <= self.top
            and self.bottom <= other.bottom
        )


def text_box(x: float, y: float, words: str, size: float, anchor: str = "start") -> Box:
    """Return the box of words with their baseline at ``y``."""
    width = text_width(words, size)
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    return Box(left, y - 0.8 * size, left + width, y + 0.25 * size)


class Places:
    """Keeps what is taken, and finds free places for labels."""

    def __init__(self, frame: Box) -> None:
        self.frame = frame
        self.taken: list[Box] = []

    def take(self, box: Box) -> None:
        self.taken.append(box)

    def is_free(self, box: Box) -> bool:
        return box.lies_in(self.frame) and not any(box.meets(other) for other in self.taken)

    def find(
        self,
        words: str,
        size: float,
        spots: Iterable[tuple[float, float]],
        frame: Box | None = None,
    ) -> tuple[float, float] | None:
        """Return the first spot (middle of the baseline) where ``words`` are free, and take it.

        ``frame`` is a smaller frame for these words alone.
        """
        half = text_width(words, size) / 2
        for x, y in spots:
            box = Box(x - half, y - 0.8 * size, x + half, y + 0.25 * size)
            if (frame is None or box.lies_in(frame)) and self.is_free(box):
                self.take(box)
                return x, y
        return None


_MOVES = sorted(
    ((dx, dy) for dx in range(-7, 8) for dy in range(-7, 8)),
    key=lambda move: (move[0] ** 2 + 2 * move[1] ** 2, move),
)


def spots_around(x: float, y: float, step: float) -> Iterator[tuple[float, float]]:
    """Yield places near (x, y), nearest first, then ever farther up, down and aside."""
    for dx, dy in _MOVES:
        yield x + dx * step, y + dy * step
