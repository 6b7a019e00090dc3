"""How regions of bar counts shrink and split, and how fractional counts become whole."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from contractor.engine.cutting.bounds import Certificate
from contractor.engine.cutting.master import Floats, Region
from contractor.engine.cutting.problem import Problem

WHOLE = 1e-5
#: So many roundings of one solution are worth a try.
MOST_ROUNDINGS = 4


def tighten(region: Region, proof: Certificate | None, problem: Problem, upper: int) -> Region:
    """Return the region less the counts that would cost ``upper`` or more, by reduced cost.

    With whole duals, one more bar of a type with positive reduced cost (or one less of a type
    with a negative one) raises the bound by at least that much.
    """
    if proof is None:
        return region
    slack = (upper - problem.cost_step) * proof.scale - proof.raw
    box = list(region.box)
    for at, price in enumerate(proof.prices):
        low, high = box[at]
        if price > 0:
            box[at] = (low, min(high, low + slack // price))
        elif price < 0:
            box[at] = (max(low, high - slack // -price), high)
    return Region(tuple(box), region.tails)


def split(region: Region, counts: Floats, steps: Floats, most: int) -> tuple[Region, Region] | None:
    """Split on a fractional number of bars of some type or longer; None: all are whole.

    Sums over all longer types settle many bars of nearly one length at once, where single
    types would only pass the fraction on to their neighbours. ``steps`` weigh the types; no plan
    has more than ``most`` bars.
    """
    sums = counts[::-1].cumsum()[::-1]
    away = np.abs(sums - np.round(sums))
    tail = 0 if away[0] > WHOLE else int((away * steps).argmax())
    if away[tail] <= WHOLE:
        return None
    low, high = region.tails.get(tail, (0, most))
    whole = int(sums[tail])
    left = Region(region.box, {**region.tails, tail: (low, whole)})
    right = Region(region.box, {**region.tails, tail: (whole + 1, high)})
    return left, right


def rounded_up(problem: Problem, counts: Floats) -> Iterator[list[int]]:
    """Yield whole bars per type that hold all material, more and more of ``counts`` rounded up."""
    bars = [int(count + WHOLE) for count in counts]
    order = sorted(range(len(bars)), key=lambda at: bars[at] - counts[at])
    wanted = sum(w * d for w, d in zip(problem.widths, problem.demands, strict=True))
    tries = 0
    for at in order:
        room = sum(b.capacity * n for b, n in zip(problem.bars, bars, strict=True))
        if room >= wanted:
            yield list(bars)
            tries += 1
        if counts[at] - bars[at] < WHOLE or tries == MOST_ROUNDINGS:
            break
        bars[at] += 1
