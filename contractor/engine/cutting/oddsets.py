"""Odd sets of pieces that fractional bars overfill: what whole bars can hold of them.

Of a set of sizes d pieces are wanted in all, d odd. A bar that holds k of them counts k // 2;
whole plans reach d // 2 at most, fractional ones more, above all where few pieces fill a bar
(Edmonds 1965 for pairs; rounding of any sum of rows: Chvatal 1973). A set is overfilled by half
of what the bars that hold an odd number of it lack to one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import combinations
from random import Random

import numpy as np
import numpy.typing as npt

from contractor.engine.cutting.master import Floats
from contractor.engine.cutting.problem import Content

OddSet = tuple[int, ...]
Flags = npt.NDArray[np.bool_]
Pair = tuple[int, int]

#: A set counts when the bars that hold an odd number of it are fewer than one by this much.
LEAST = 0.02
#: So many sets at a time, of so many sizes at most, from so many orders of joining sizes.
MOST = 25
LARGEST = 60
ORDERS = 40
NOISE = 0.3


def overfilled(
    contents: Sequence[Content], uses: Floats, demands: Sequence[int], random: Random
) -> list[OddSet]:
    """Return sets of sizes overfilled by so many ``uses`` of each content, the worst first.

    ``uses`` must hold every piece as often as wanted. Sizes that share bars are joined, the
    heaviest ties first, then in orders near to that; every set on the way with an odd number of
    pieces is looked at.
    """
    odd = np.zeros((len(demands), len(contents)), dtype=np.bool_)
    ties: defaultdict[Pair, float] = defaultdict(float)
    for at, content in enumerate(contents):
        single = [size for size, number in content if number % 2]
        odd[single, at] = True
        for pair in combinations(single, 2):
            ties[pair] += float(uses[at])
    alone = {(size,): float(uses @ odd[size]) for size, need in enumerate(demands) if need % 2}
    found: dict[OddSet, float] = {one: bars for one, bars in alone.items() if bars < 1 - LEAST}
    for turn in range(ORDERS):
        noise = NOISE if turn else 0.0
        weights = {pair: tie * (1 + noise * random.uniform(-1, 1)) for pair, tie in ties.items()}
        order = sorted(weights, key=lambda pair: (-weights[pair], pair))
        found |= _joined(order, odd, uses, demands)
    return sorted(found, key=lambda one: (round(found[one], 6), len(one), one))[:MOST]


def _joined(
    order: Sequence[Pair], odd: Flags, uses: Floats, demands: Sequence[int]
) -> dict[OddSet, float]:
    """Join sizes in this order; return the overfilled sets and how many bars hold them oddly."""
    group = list(range(len(demands)))
    members = {size: [size] for size in group}
    held = dict(enumerate(odd))
    found: dict[OddSet, float] = {}
    for one, other in order:
        first, second = group[one], group[other]
        if first == second or len(members[first]) + len(members[second]) > LARGEST:
            continue
        for size in members[second]:
            group[size] = first
        members[first] = members[first] + members.pop(second)
        held[first] = held[first] ^ held.pop(second)
        if sum(demands[size] for size in members[first]) % 2:
            bars = float(uses @ held[first])
            if bars < 1 - LEAST:
                found[tuple(sorted(members[first]))] = bars
    return found
