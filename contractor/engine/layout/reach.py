"""How far a row of braces gets from either corner, and the least change that lets it through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from contractor.engine.layout.solve import Limits, next_windows
from contractor.engine.units import TICKS_PER_INCH

CLOSEST_TICKS = 12 * TICKS_PER_INCH


def reached_from_left(at: Sequence[int], limits: Limits) -> list[bool]:
    """Return for each place whether a row that starts at the left corner can come to it."""
    flows = [0] * (len(at) + 1)  # differences: how many reached places point at each place
    reached = []
    pointing = 0
    for i, (low, high) in enumerate(next_windows(at, limits)):
        pointing += flows[i]
        is_reached = pointing > 0 or limits.may_start(at[i])
        reached.append(is_reached)
        if is_reached and low < high:
            flows[low] += 1
            flows[high] -= 1
    return reached


def reached_from_right(at: Sequence[int], limits: Limits) -> list[bool]:
    """Return for each place whether a row can go on from it to the right corner."""
    mirrored = [limits.length - here for here in reversed(at)]
    return list(reversed(reached_from_left(mirrored, limits)))


def is_bridged(at: Sequence[int], limits: Limits) -> bool:
    return any(
        reached and limits.may_end(here)
        for here, reached in zip(at, reached_from_left(at, limits), strict=True)
    )


def unbridged_stretch(at: Sequence[int], limits: Limits) -> tuple[int, int]:
    """Return (from, to): the farthest place from the left corner, the next one from the right."""
    left = [here for here, ok in zip(at, reached_from_left(at, limits), strict=True) if ok]
    begin = left[-1] if left else 0
    right = [here for here, ok in zip(at, reached_from_right(at, limits), strict=True) if ok]
    return begin, next((here for here in right if here > begin), limits.length)


def largest_gap(at: Sequence[int], begin: int, end: int) -> int:
    """Return the largest distance between neighbouring places of a stretch, ends included."""
    inside = sorted({begin, end, *(here for here in at if begin < here < end)})
    return max((b - a for a, b in pairwise(inside)), default=0)


def least_spacing_max(at: Sequence[int], limits: Limits) -> int | None:
    """Return the least greater spacing limit that lets a row through, None if none does."""
    return _least(
        limits.spacing_max,
        limits.length,
        lambda most: is_bridged(at, replace(limits, spacing_max=most)),
    )


def least_corner_max(at: Sequence[int], limits: Limits) -> int | None:
    """Return the least greater corner distance that lets a row through, None if none does.

    More than the spacing limit is no corner distance any more.
    """
    return _least(
        limits.corner_max,
        min(limits.spacing_max, limits.length),
        lambda most: is_bridged(at, replace(limits, corner_max=most)),
    )


def greatest_spacing_min(at: Sequence[int], limits: Limits) -> int | None:
    """Return the greatest smaller least spacing that lets a row through, None if none does.

    Below ``CLOSEST_TICKS`` two braces are no remedy.
    """
    less = _least(
        0,
        limits.spacing_min - CLOSEST_TICKS,
        lambda less: is_bridged(at, replace(limits, spacing_min=limits.spacing_min - less)),
    )
    return None if less is None else limits.spacing_min - less


def _least(above: int, most: int, holds: Callable[[int], bool]) -> int | None:
    """Return the least number in (above, most] for which ``holds``, which is monotone."""
    if most <= above or not holds(most):
        return None
    while most - above > 1:
        middle = (above + most) // 2
        if holds(middle):
            most = middle
        else:
            above = middle
    return most
