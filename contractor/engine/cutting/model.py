"""A cutting instance and a cutting plan as plain integers.

A bar of length L holds pieces l1..ln when ``end_trim + sum(l) + kerf * (n - 1) <= L``: a clean
end needs no cut. With every piece widened by one kerf and every bar too, that is a knapsack:
``sum(l + kerf) <= L - end_trim + kerf``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

Pieces = tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Stock:
    """Bars of one length: ``supply`` None means that as many as wanted can be bought."""

    id: str
    length: int
    cost: int
    supply: int | None = None
    is_offcut: bool = False


@dataclass(frozen=True)
class Item:
    """Pieces of one length; ``due`` and ``group`` (a job) matter only among equal costs."""

    id: str
    length: int
    demand: int
    due: date | None = None
    group: str | None = None


@dataclass(frozen=True)
class Instance:
    """Pieces wanted and bars at hand, all of one part and grade."""

    stock: tuple[Stock, ...]
    items: tuple[Item, ...]
    kerf: int = 0
    end_trim: int = 0
    min_offcut: int = 0
    name: str = ""

    def capacity(self, stock: Stock) -> int:
        """Return the room of a bar for widths (piece + kerf); 0 or less holds nothing."""
        return stock.length - self.end_trim + self.kerf

    def width(self, item: Item) -> int:
        return item.length + self.kerf

    def left_of(self, stock: Stock, pieces: Iterable[tuple[Item, int]]) -> int:
        """Return what remains of a bar after the pieces and one kerf each, never below 0."""
        used = sum(self.width(item) * count for item, count in pieces)
        return max(0, stock.length - self.end_trim - used)

    @property
    def pieces(self) -> int:
        return sum(item.demand for item in self.items)


@dataclass(frozen=True)
class Bar:
    """``count`` bars of one stock cut alike; ``pieces`` are (item id, number per bar)."""

    stock: str
    count: int
    pieces: Pieces
    left: int
    is_kept: bool


@dataclass(frozen=True)
class CutPlan:
    """Bars in saw order, with a lower bound on the cost of any plan for the pieces met.

    ``bound`` and ``is_proven`` speak of the pieces that the plan cuts; ``unmet`` lists what the
    supply could not cover. ``method`` names what found the plan; ``seconds`` is for reports only.
    """

    bars: tuple[Bar, ...]
    cost: int
    bound: int
    is_proven: bool
    unmet: Pieces = ()
    seconds: float = 0.0
    method: str = ""

    @property
    def gap(self) -> float:
        """Return the relative gap (cost - bound) / cost, 0 for a plan that costs nothing."""
        return (self.cost - self.bound) / self.cost if self.cost else 0.0

    @property
    def patterns(self) -> int:
        return len({(bar.stock, bar.pieces) for bar in self.bars})

    def bar_counter(self) -> Counter[tuple[str, Pieces]]:
        """Return how many bars are cut how: (stock id, pieces) -> bars."""
        counter: Counter[tuple[str, Pieces]] = Counter()
        for bar in self.bars:
            counter[bar.stock, tuple(sorted(bar.pieces))] += bar.count
        return counter


def make_bar(instance: Instance, stock: Stock, pieces: Pieces, count: int = 1) -> Bar:
    """Return the bar with its remainder worked out; raises KeyError on an unknown item."""
    by_id = {item.id: item for item in instance.items}
    left = instance.left_of(stock, ((by_id[key], number) for key, number in pieces))
    return Bar(stock.id, count, pieces, left, 0 < instance.min_offcut <= left)
