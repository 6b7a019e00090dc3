"""Lower bounds on the cost of a plan, all in whole numbers.

The volume bound lets material flow: total width against capacity at the best price per length,
scarce bars first. ``dual_bound`` turns any piece values into a bound (weak duality): whatever
floats they came from, whole values and an exact knapsack make it true.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from contractor.engine.cutting.problem import Problem


def volume_bound(problem: Problem) -> int:
    """Return the least possible cost if pieces could be melted together; 0 without pieces."""
    volume = sum(w * d for w, d in zip(problem.widths, problem.demands, strict=True))
    cost = Fraction(0)
    for bar in sorted(problem.bars, key=lambda one: Fraction(one.cost, one.capacity)):
        take = min(volume, bar.capacity * bar.supply)
        cost += Fraction(bar.cost * take, bar.capacity)
        volume -= take
        if not volume:
            break
    return problem.round_up(cost.numerator, cost.denominator)


@dataclass(frozen=True)
class Certificate:
    """A lower bound ``raw / scale`` on the cost of any plan in a region, by weak duality.

    ``raw`` takes every bar type at the cheap end of its box; ``prices[b]`` (scaled) is what one
    bar more (positive) or one less (negative) adds to it.
    """

    raw: int
    scale: int
    prices: tuple[int, ...]


def dual_bound(
    demands: Sequence[int],
    values: Sequence[int],
    reduced: Sequence[int],
    box: Sequence[tuple[int, int]],
    tails: Mapping[int, tuple[int, tuple[int, int]]],
    scale: int,
) -> Certificate:
    """Return what whole duals prove: Lagrangian relaxation as in Gilmore and Gomory (1961).

    ``values`` are piece values, not negative; ``reduced[b]`` is the scaled cost of bar type b
    less the most that its pieces can be worth (exact knapsack). ``tails[k]`` is (fee, (low,
    high)): any fee on "bars of type k or longer lie in low..high". A plan with x[b] bars costs at
    least sum(demand x value) + sum(reduced x x); the fees move into the prices of the bar types
    and what remains is taken at the cheap end of each box. True for any whole numbers put in.
    """
    raw = sum(need * value for need, value in zip(demands, values, strict=True))
    return settle(raw, reduced, box, tails, scale)


def settle(
    raw: int,
    reduced: Sequence[int],
    box: Sequence[tuple[int, int]],
    tails: Mapping[int, tuple[int, tuple[int, int]]],
    scale: int,
) -> Certificate:
    """Return what "cost >= raw + sum(reduced x bars)" proves for bars within box and tails."""
    prices = list(reduced)
    for tail, (fee, (low, high)) in tails.items():
        raw += fee * (low if fee > 0 else high)
        for at in range(tail, len(prices)):
            prices[at] -= fee
    for price, (low, high) in zip(prices, box, strict=True):
        raw += price * (low if price > 0 else high)
    return Certificate(raw, scale, tuple(prices))
