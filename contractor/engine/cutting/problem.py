"""The knapsack form of an instance: widths, capacities, like pieces and like bars merged.

Every piece and every bar is one kerf wider than it is, so a clean end needs no cut. Sizes come
in falling order. Bars of one capacity and cost are one bar type, whatever their ids.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from math import gcd

from contractor.engine.cutting.model import Instance

#: (size index, number) pairs with falling size; indices rise.
Content = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class BarType:
    """Bars alike to the solver. ``supply`` is finite: never more bars than pieces."""

    capacity: int
    cost: int
    supply: int


@dataclass(frozen=True, order=True)
class Pattern:
    """How one bar is cut: the bar type's index and what it holds."""

    bar: int
    content: Content


Cuts = dict[Pattern, int]


@dataclass(frozen=True)
class Problem:
    """Widths fall, demands are at least 1, bar types hold at least the smallest width."""

    widths: tuple[int, ...]
    demands: tuple[int, ...]
    bars: tuple[BarType, ...]

    @property
    def pieces(self) -> int:
        return sum(self.demands)

    @cached_property
    def capacity(self) -> int:
        """The capacity of the longest bar."""
        return max((bar.capacity for bar in self.bars), default=0)

    @cached_property
    def cost_step(self) -> int:
        """Every plan costs a multiple of this."""
        return gcd(*(bar.cost for bar in self.bars)) or 1

    def round_up(self, numerator: int, denominator: int) -> int:
        """Return the least possible plan cost not below numerator / denominator."""
        step = self.cost_step * denominator
        return max(0, -(-numerator // step)) * self.cost_step

    def cost(self, cuts: Cuts) -> int:
        return sum(self.bars[pattern.bar].cost * count for pattern, count in cuts.items())

    def width(self, content: Content) -> int:
        return sum(self.widths[size] * number for size, number in content)

    def coarse(self, unit: int, is_outer: bool) -> Problem:
        """Return the problem in a coarser unit of length; sizes and bar types keep their index.

        Inner: pieces rounded up, so that its plans are plans of this problem. Outer: pieces
        rounded down, so that this problem's plans are among its plans and its bounds hold here;
        the unit must not be longer than the shortest piece.
        """
        bars = tuple(BarType(b.capacity // unit, b.cost, b.supply) for b in self.bars)
        if is_outer:
            widths = tuple(width // unit for width in self.widths)
        else:
            widths = tuple(-(-width // unit) for width in self.widths)
        return Problem(widths, self.demands, bars)

    def covers(self, cuts: Cuts) -> bool:
        """Say whether the patterns hold at least every piece within the supplies."""
        held = Counter[int]()
        used = Counter[int]()
        for pattern, count in cuts.items():
            used[pattern.bar] += count
            for size, number in pattern.content:
                held[size] += number * count
        return all(held[size] >= need for size, need in enumerate(self.demands)) and all(
            used[at] <= bar.supply for at, bar in enumerate(self.bars)
        )


@dataclass(frozen=True)
class Reduction:
    """An instance beside its problem; bar and size indices lead back to the ids."""

    instance: Instance
    problem: Problem
    stock_ids: tuple[tuple[str, ...], ...]
    item_ids: tuple[tuple[str, ...], ...]


def reduce_instance(instance: Instance) -> Reduction:
    """Return the problem of an instance. Pieces that fit in no bar stay: they end up unmet."""
    sizes: dict[int, list[str]] = {}
    demand = Counter[int]()
    for item in instance.items:
        if item.demand:
            sizes.setdefault(instance.width(item), []).append(item.id)
            demand[instance.width(item)] += item.demand
    widths = tuple(sorted(sizes, reverse=True))
    total = sum(demand.values())
    kinds: dict[tuple[int, int], list[str]] = {}
    supply = Counter[tuple[int, int]]()
    for stock in sorted(instance.stock, key=lambda one: not one.is_offcut):
        have = total if stock.supply is None else min(stock.supply, total)
        if have and widths and instance.capacity(stock) >= widths[-1]:
            key = (instance.capacity(stock), stock.cost)
            kinds.setdefault(key, []).append(stock.id)
            supply[key] += have
    order = sorted(kinds)
    bars = tuple(BarType(key[0], key[1], min(supply[key], total)) for key in order)
    problem = Problem(widths, tuple(demand[width] for width in widths), bars)
    stock_ids = tuple(tuple(kinds[key]) for key in order)
    return Reduction(instance, problem, stock_ids, tuple(tuple(sizes[w]) for w in widths))


def trim_cover(problem: Problem, cuts: Cuts) -> Cuts:
    """Return cuts that hold every piece exactly: surplus pieces leave the emptiest bars first."""
    surplus = [-need for need in problem.demands]
    for pattern, count in cuts.items():
        for size, number in pattern.content:
            surplus[size] += number * count
    if not any(extra > 0 for extra in surplus):
        return {pattern: count for pattern, count in cuts.items() if count}
    single = [pattern for pattern, count in sorted(cuts.items()) for _ in range(count)]
    single.sort(key=lambda pattern: problem.width(pattern.content))
    exact = Counter[Pattern]()
    for pattern in single:
        content: list[tuple[int, int]] = []
        for size, number in pattern.content:
            drop = max(0, min(number, surplus[size]))
            surplus[size] -= drop
            if number > drop:
                content.append((size, number - drop))
        if content:
            exact[Pattern(pattern.bar, tuple(content))] += 1
    return dict(exact)
