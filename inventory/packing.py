"""Say quickly which bars hold the pieces, to reserve them; the cutting plan comes later.

A bar of length L holds pieces when ``end_trim + sum + kerf * (n - 1) <= L`` (a clean end needs
no cut). Two rules are tried: first fit decreasing, and filling each bar as full as it goes.
Neither proves that nothing fits; the optimizer may still find a way.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)


@dataclass(frozen=True)
class FreeBars(Generic[K]):
    """``count`` bars of one place; offcuts are opened before full bars."""

    key: K
    length_ticks: int
    count: int
    is_offcut: bool = False


@dataclass(frozen=True)
class Packed(Generic[K]):
    """``bars``: (place, indices of its pieces); ``unmet``: indices that found no bar."""

    bars: tuple[tuple[K, tuple[int, ...]], ...]
    unmet: tuple[int, ...]


def longest_piece(length_ticks: int, *, end_trim: int) -> int:
    """Return the longest piece that a bar gives."""
    return length_ticks - end_trim


def pack(
    pieces: Sequence[int], bars: Sequence[FreeBars[K]], *, kerf: int, end_trim: int
) -> Packed[K]:
    """Return bars for ``pieces`` (lengths); the rule with fewer unmet pieces wins."""
    first = _first_fit(pieces, bars, kerf, end_trim)
    if not first.unmet:
        return first
    filled = _fill(pieces, bars, kerf, end_trim)
    return filled if len(filled.unmet) < len(first.unmet) else first


def _by_length(bars: Sequence[FreeBars[K]]) -> list[FreeBars[K]]:
    return sorted(bars, key=lambda bar: (not bar.is_offcut, bar.length_ticks))


def _falling(pieces: Sequence[int]) -> list[int]:
    return sorted(range(len(pieces)), key=lambda index: (-pieces[index], index))


def _first_fit(
    pieces: Sequence[int], bars: Sequence[FreeBars[K]], kerf: int, end_trim: int
) -> Packed[K]:
    ordered = _by_length(bars)
    counts = [bar.count for bar in ordered]
    opened: list[tuple[K, list[int]]] = []
    room: list[int] = []
    unmet: list[int] = []
    for index in _falling(pieces):
        width = pieces[index] + kerf
        slot = next((at for at, left in enumerate(room) if left >= width), None)
        if slot is None:
            fresh = _open(ordered, counts, width, kerf, end_trim)
            if fresh is None:
                unmet.append(index)
                continue
            counts[fresh] -= 1
            opened.append((ordered[fresh].key, []))
            room.append(ordered[fresh].length_ticks - end_trim + kerf)
            slot = len(room) - 1
        room[slot] -= width
        opened[slot][1].append(index)
    return _packed(opened, unmet)


def _open(
    bars: Sequence[FreeBars[K]], counts: Sequence[int], width: int, kerf: int, end_trim: int
) -> int | None:
    for at, bar in enumerate(bars):
        if counts[at] and bar.length_ticks - end_trim + kerf >= width:
            return at
    return None


def _fill(
    pieces: Sequence[int], bars: Sequence[FreeBars[K]], kerf: int, end_trim: int
) -> Packed[K]:
    waiting = _falling(pieces)
    opened: list[tuple[K, list[int]]] = []
    for bar in _by_length(bars):
        for _ in range(bar.count):
            chosen = _fullest(pieces, waiting, bar.length_ticks - end_trim + kerf, kerf)
            if not chosen:
                break
            opened.append((bar.key, chosen))
            taken = set(chosen)
            waiting = [index for index in waiting if index not in taken]
    return _packed(opened, waiting)


def _fullest(pieces: Sequence[int], waiting: Sequence[int], room: int, kerf: int) -> list[int]:
    """Return the subset whose widths fill ``room`` best (subset sums as bits of an integer)."""
    mask = (1 << (max(room, 0) + 1)) - 1
    reached, layers = 1, [1]
    for index in waiting:
        reached |= (reached << (pieces[index] + kerf)) & mask
        layers.append(reached)
    total = reached.bit_length() - 1
    chosen: list[int] = []
    for step in range(len(waiting) - 1, -1, -1):
        if not layers[step] >> total & 1:
            chosen.append(waiting[step])
            total -= pieces[waiting[step]] + kerf
    return chosen


def _packed(opened: Sequence[tuple[K, list[int]]], unmet: Sequence[int]) -> Packed[K]:
    return Packed(tuple((key, tuple(found)) for key, found in opened), tuple(unmet))
