"""The knapsack form of an instance: widths, capacities, like pieces and like bars merged.

Every piece and every bar is one kerf wider than it is, so a clean end needs no cut. Sizes come
in falling order. Bars of one capacity and cost are one bar type, whatever their ids.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from math import gcd

from contractor.engine.cutting.model import Bar, Instance, Pieces, make_bar

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

    def without(self, missing: Sequence[int]) -> Problem:
        """Return the problem less ``missing[size]`` pieces of each size."""
        kept = [
            (width, need - less)
            for width, need, less in zip(self.widths, self.demands, missing, strict=True)
            if need > less
        ]
        return Problem(tuple(w for w, _ in kept), tuple(d for _, d in kept), self.bars)

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

    def expand(self, cuts: Cuts) -> tuple[tuple[Bar, ...], Pieces]:
        """Return (real bars, unmet pieces) for exact cuts; offcuts and early dues come first."""
        queues = [_piece_queue(self.instance, ids) for ids in self.item_ids]
        bars = _real_bars(self, cuts, queues)
        rest = Counter(item_id for queue in queues for item_id in queue)
        return bars, tuple(sorted(rest.items()))


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


def _real_bars(reduction: Reduction, cuts: Cuts, queues: list[list[str]]) -> tuple[Bar, ...]:
    instance = reduction.instance
    by_id = {stock.id: stock for stock in instance.stock}
    have = {
        stock.id: instance.pieces if stock.supply is None else stock.supply
        for stock in instance.stock
    }
    found = Counter[tuple[str, Pieces]]()
    for pattern, count in sorted(cuts.items(), key=lambda entry: entry[0].content):
        for _ in range(count):
            stock_id = next(key for key in reduction.stock_ids[pattern.bar] if have[key])
            have[stock_id] -= 1
            held = Counter[str]()
            for size, number in pattern.content:
                held.update(queues[size].pop() for _ in range(number))
            found[stock_id, tuple(held.items())] += 1
    return tuple(
        make_bar(instance, by_id[stock_id], pieces, count)
        for (stock_id, pieces), count in found.items()
    )


def _piece_queue(instance: Instance, ids: tuple[str, ...]) -> list[str]:
    """Return single piece ids of one length, the earliest due last (so that pop gives it)."""
    items = [item for item in instance.items if item.id in ids]
    items.sort(key=lambda item: (item.due or date.max, item.id))
    single = [item.id for item in items for _ in range(item.demand)]
    return single[::-1]
