"""Lower bounds on the cost of a plan, all in whole numbers.

The volume bound lets material flow: total width against capacity at the best price per length,
scarce bars first. ``dual_bound`` turns any piece values into a bound (weak duality): whatever
floats they came from, whole values and an exact knapsack make it true.
"""

from __future__ import annotations

from collections.abc import Sequence
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


def dual_bound(
    demands: Sequence[int],
    values: Sequence[int],
    reduced: Sequence[int],
    box: Sequence[tuple[int, int]],
    total: tuple[int, int],
) -> int | None:
    """Return a lower bound, in the scale of ``values``, on the cost of any plan in a box of counts.

    ``reduced[b]`` is the scaled cost of bar type b less the most that its pieces can be worth
    (exact knapsack). A plan with x[b] bars costs at least ``sum(demand * value) + sum(reduced *
    x)``; the least of that over the box and the total count is found greedily. None: the box is
    empty. Lagrangian relaxation of the covering rows, as in Gilmore and Gomory (1961).
    """
    counts = [low for low, _ in box]
    if any(high < low for low, high in box) or sum(counts) > total[1]:
        return None
    have = sum(counts)
    for at in sorted(range(len(box)), key=lambda one: reduced[one]):
        room = box[at][1] - counts[at]
        wanted = total[1] - have if reduced[at] < 0 else max(0, total[0] - have)
        step = min(room, wanted)
        counts[at] += step
        have += step
    if have < total[0]:
        return None
    worth = sum(need * value for need, value in zip(demands, values, strict=True))
    return worth + sum(price * count for price, count in zip(reduced, counts, strict=True))
