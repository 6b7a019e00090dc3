"""Pieces that must be cut from one bar: what a fractional solution holds together or splits."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import combinations

import numpy as np

from contractor.engine.cutting.cover import Cover
from contractor.engine.cutting.knapsack import Whole
from contractor.engine.cutting.master import Floats

#: Two sizes of one piece each, or the number of a column that can be used only once. A whole plan
#: has each once or not at all.
Thing = tuple[int, ...]

WHOLE = 1e-6
#: Two pieces are undecided when they are together in at least this part of a bar and not more.
UNDECIDED = 0.01


def pair_sums(cover: Cover, uses: Floats) -> dict[Thing, float]:
    """Return in how many bars two sizes of one piece each are together, one of them scarce."""
    sums: dict[Thing, float] = {}
    used = np.flatnonzero((uses > WHOLE) & cover.are_listed()[: len(uses)])
    for at in used.tolist():
        single = [size for size, _ in cover.columns[at] if cover.needs[size] == 1]
        for pair in combinations(single, 2):
            if cover.is_scarce[list(pair)].any():
                sums[pair] = sums.get(pair, 0.0) + float(uses[at])
    return sums


def undecided_pairs(cover: Cover, uses: Floats) -> list[Thing]:
    """Return the pairs that are neither together nor apart, the most undecided first."""
    sums = pair_sums(cover, uses)
    away = {pair: abs(amount - round(amount)) for pair, amount in sums.items()}
    far = [pair for pair in away if away[pair] > UNDECIDED]
    return sorted(far, key=lambda pair: (-away[pair], pair))


def forced_things(cover: Cover, is_stopped: Callable[[], bool]) -> list[Thing] | None:
    """Return things that every plan must have, out of those the last solution has; None: stopped.

    All at once: if not even a fractional plan can do without one of them, all are forced.
    Otherwise that plan shows which of them are not.
    """
    things = _things(cover)
    reached: bool | None = True
    while things and reached:
        weights = np.zeros(len(cover.columns), dtype=np.int64)
        for columns in things.values():
            weights[columns] += 1
        cover.ask_less(weights, len(things) - 1)
        reached = cover.reach(is_stopped)
        if reached:
            uses = cover.uses
            things = {one: at for one, at in things.items() if uses[at].sum() > 1 - WHOLE}
    cover.ask_nothing()
    return None if reached is None else list(things)


def _things(cover: Cover) -> dict[Thing, Whole]:
    """Return what the last solution has in full and may not be forced yet, with its columns."""
    sums = pair_sums(cover, cover.uses)
    full = [pair for pair, amount in sums.items() if amount > 1 - WHOLE]
    things: dict[Thing, Whole] = {}
    for one, other in full:
        holds_one, holds_other = cover.holding([one]), cover.holding([other])
        is_split = bool((holds_one != holds_other).any())
        if is_split or not cover.is_scarce[[one, other]].all():
            things[one, other] = np.flatnonzero(holds_one & holds_other)
    # What could be used twice would make up for a thing that is missing: only single uses count.
    for at in np.flatnonzero((cover.uses > 1 - WHOLE) & cover.are_listed()).tolist():
        column = cover.columns[at]
        is_once = any(cover.needs[size] < 2 * number for size, number in column)
        if is_once and any(cover.needs[size] > 1 for size, _ in column):
            things[at,] = np.array([at])
    return things


def keep_together(cover: Cover, pairs: Iterable[Thing]) -> None:
    """Keep only columns that hold both sizes of a pair or neither."""
    kept = np.ones(len(cover.columns), dtype=np.bool_)
    for one, other in pairs:
        kept &= cover.holding([one]) == cover.holding([other])
        cover.is_scarce[[one, other]] = True
    cover.keep(kept)


def keep_apart(cover: Cover, pairs: Iterable[Thing]) -> None:
    """Keep only columns that do not hold both sizes of a pair."""
    kept = np.ones(len(cover.columns), dtype=np.bool_)
    for one, other in pairs:
        kept &= ~(cover.holding([one]) & cover.holding([other]))
    cover.keep(kept)
