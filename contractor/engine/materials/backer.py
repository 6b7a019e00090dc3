"""Backer and blocking where joists run along the wall, so that a brace finds no joist end on.

An 8 ft backer lies flat under the joists, square to the wall, from the wall inwards; a block
fills every bay it crosses. Worked cases: 12, 16, 19.2 and 24 in centres and old 1-5/8 in joists.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from contractor.engine.materials.hardware import FastenerCounts, Hardware
from contractor.engine.survey import Framing
from contractor.engine.units import floor_to_sixteenth

#: Blocks sit this far left and right of the backer's centre line in turn, so that every block
#: can be nailed through its joist without meeting the next one. Common practice.
STAGGER_TICKS = 64
#: A bay narrower than a block is thick takes none.
LEAST_BAY_TICKS = 96


@dataclass(frozen=True)
class Block:
    """One block: its bay from ``from_ticks`` to ``to_ticks`` off the wall, clear, and its cut."""

    from_ticks: int
    to_ticks: int
    cut_ticks: int
    stagger_ticks: int
    is_measured: bool

    @property
    def clear_ticks(self) -> int:
        return self.to_ticks - self.from_ticks


@dataclass(frozen=True)
class BackerPlan:
    """The same for every brace of a wall. ``joist_ticks`` are the centres of joists crossed."""

    length_ticks: int
    joist_thickness_ticks: int
    joist_ticks: tuple[int, ...]
    blocks: tuple[Block, ...]
    is_measured: bool

    def fasteners(self, counts: FastenerCounts) -> dict[str, int]:
        """Return how many nails or screws go where, for one backer."""
        return {
            "block_ends": 2 * counts.per_block_end * len(self.blocks),
            "backer_to_blocks": counts.per_block_through_backer * len(self.blocks),
            "backer_to_joists": counts.per_joist_through_backer * len(self.joist_ticks),
        }


def joists_crossed(centers: Sequence[int], backer_ticks: int) -> tuple[int, ...]:
    """Return the centres a backer from 0 to ``backer_ticks`` can be nailed to."""
    return tuple(c for c in sorted(centers) if 0 <= c <= backer_ticks)


def clear_bays(joists: Sequence[int], thickness_ticks: int) -> list[tuple[int, int]]:
    """Return the clear bays between neighbouring joists as (from, to)."""
    half, rest = thickness_ticks // 2, thickness_ticks - thickness_ticks // 2
    return [(left + rest, right - half) for left, right in pairwise(joists)]


def plan_backer(framing: Framing, hardware: Hardware, thickness_ticks: int) -> BackerPlan:
    """Return joists crossed and blocks for one backer.

    Where centres were measured, every clear width is the measured one; the bay between the rim
    and the first joist is rarely the module and is only trusted when measured by itself.
    Without centres the company's assumed spacing is laid off from the wall, marked not measured.
    """
    is_measured = bool(framing.center_ticks)
    centers = framing.center_ticks or _assumed_centers(hardware)
    joists = joists_crossed(centers, hardware.backer_ticks)
    bays = [(a, b, is_measured) for a, b in clear_bays(joists, thickness_ticks)]
    if joists and (first := _first_bay(joists[0], thickness_ticks, hardware)) is not None:
        bays.insert(0, first)
    blocks = tuple(
        Block(
            *(start, end, floor_to_sixteenth(end - start)),
            stagger_ticks=STAGGER_TICKS if i % 2 == 0 else -STAGGER_TICKS,
            is_measured=measured,
        )
        for i, (start, end, measured) in enumerate(
            bay for bay in bays if bay[1] - bay[0] >= LEAST_BAY_TICKS
        )
    )
    return BackerPlan(hardware.backer_ticks, thickness_ticks, joists, blocks, is_measured)


def _assumed_centers(hardware: Hardware) -> tuple[int, ...]:
    step = hardware.assumed_joist_spacing_ticks
    return tuple(range(step, hardware.backer_ticks + 1, step))


def _first_bay(
    first_center: int, thickness_ticks: int, hardware: Hardware
) -> tuple[int, int, bool] | None:
    face = first_center - thickness_ticks // 2
    if hardware.first_bay_clear_ticks is not None:
        return face - hardware.first_bay_clear_ticks, face, True
    return (0, face, False) if face > 0 else None


def pieces_per_stick(stock_ticks: int, piece_ticks: int, kerf_ticks: int) -> int:
    """Return how many equal pieces one stick gives: n pieces cost n - 1 kerfs.

    >>> pieces_per_stick(96 * 64, 48 * 64, 8)
    1
    """
    return (stock_ticks + kerf_ticks) // (piece_ticks + kerf_ticks)


def sticks_needed(pieces: Sequence[int], stock_ticks: int, kerf_ticks: int) -> int:
    """Return the sticks that first-fit decreasing fills; a plan for a lumber rack, not a proof.

    Raises ValueError where a piece is longer than a stick.
    """
    room: list[int] = []
    for piece in sorted(pieces, reverse=True):
        if piece > stock_ticks:
            raise ValueError("a piece is longer than the stick")
        need = piece + kerf_ticks
        for i, left in enumerate(room):
            if need <= left:
                room[i] = left - need
                break
        else:
            room.append(stock_ticks + kerf_ticks - need)
    return len(room)
