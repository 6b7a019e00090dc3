"""How wide words are, wrapped lines, and places for labels that do not overlap."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

#: Advance widths in em of a common sans serif, by kind of letter, rounded up. Good to a few
#: per cent, which is all that keeping labels apart needs.
_NARROW = set("ijl.,:;'|!`")
_SLIM = set('ftrI()[]{}/\\-" \u00a0')
_WIDE = set("mwMW%@—")
_CAPITALS = set("ABCDEFGHJKLNOPQRSTUVXYZ&")


def text_width(words: str, size: float) -> float:
    """Return the width of ``words`` at a font size of ``size``, in the same unit."""
    em = 0.0
    for letter in words:
        if letter in _NARROW:
            em += 0.26
        elif letter in _SLIM:
            em += 0.36
        elif letter in _WIDE:
            em += 0.9
        elif letter in _CAPITALS:
            em += 0.71
        else:
            em += 0.565
    return em * size


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
        self, words: str, size: float, spots: Iterable[tuple[float, float]]
    ) -> tuple[float, float] | None:
        """Return the first spot (middle of the baseline) where ``words`` are free, and take it."""
        for x, y in spots:
            box = text_box(x, y, words, size, "middle")
            if self.is_free(box):
                self.take(box)
                return x, y
        return None


def spots_around(x: float, y: float, step: float) -> list[tuple[float, float]]:
    """Return places near (x, y), nearest first, then ever farther up, down and aside."""
    moves = [(dx * step, dy * step) for dx in range(-7, 8) for dy in range(-7, 8)]
    moves.sort(key=lambda move: (move[0] ** 2 + 2 * move[1] ** 2, move))
    return [(x + dx, y + dy) for dx, dy in moves]
