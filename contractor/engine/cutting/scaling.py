"""Dual prices as whole numbers, as fine as the knapsack tables can hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from contractor.engine.cutting.knapsack import Whole
from contractor.engine.cutting.master import Floats
from contractor.engine.cutting.problem import Problem

SMALL = 2**30
LARGE = 2**61


@dataclass(frozen=True)
class Scaled:
    """Whole piece values: ``values`` / ``scale`` are the duals, rounded down."""

    values: Whole
    scale: int
    is_small: bool


def scale_duals(problem: Problem, size_duals: Floats) -> Scaled:
    """Return the size duals as whole numbers, as fine as the tables allow.

    int32 tables serve unless rounding down one unit per piece could cost a fiftieth of the cost
    step. No content of a bar is worth more than capacity x best worth per width. The scale is a
    power of two, so that proofs of different scales add up without loss. Prices that even the
    large tables could not hold count as nothing: a weak bound, but a true one.
    """
    prices = np.maximum(size_duals, 0.0)
    rate = float((prices / np.array(problem.widths)).max())
    most = max(rate * problem.capacity, max((bar.cost for bar in problem.bars), default=1), 1e-9)
    if most > LARGE:
        return Scaled(np.zeros(len(prices), dtype=np.int64), 1, False)
    scale = _power_of_two(int(SMALL / most))
    is_small = most <= SMALL and scale * problem.cost_step >= 50 * problem.pieces
    if not is_small:
        scale = _power_of_two(min(int(LARGE / most), 2**53 // max(1, int(most))))
    values: Whole = np.floor(prices * scale).astype(np.int64)
    return Scaled(values, scale, is_small)


def _power_of_two(most: int) -> int:
    return 1 << max(0, most.bit_length() - 1)
