"""Give the solver's anonymous patterns their real bars and pieces, in saw order.

Offcuts go before full lengths of the same price. Pieces of one length are alike to the saw, so
which of them lies where costs nothing: early due pieces come first, and pieces of one group (a
job) go to bars that hold that group already. Bars are sawn in the order of their earliest piece.
"""

from __future__ import annotations

from collections import Counter
from datetime import date

from contractor.engine.cutting.model import Bar, Instance, Item, Pieces, make_bar
from contractor.engine.cutting.problem import Content, Cuts, Pattern, Reduction


def name_bars(reduction: Reduction, cuts: Cuts) -> tuple[tuple[Bar, ...], Pieces]:
    """Return (bars in saw order, unmet pieces) for cuts that hold no piece too many."""
    namer = _Namer(reduction.instance, reduction.item_ids)
    stock = _StockNames(reduction)
    found = Counter[tuple[str, Pieces]]()
    for pattern, count in sorted(cuts.items(), key=_longest_first):
        for _ in range(count):
            found[stock.take(pattern.bar), namer.pieces(pattern.content)] += 1
    return saw_order(reduction.instance, found), namer.unmet()


def saw_order(instance: Instance, counter: Counter[tuple[str, Pieces]]) -> tuple[Bar, ...]:
    """Return the bars, earliest due first, then long bars and full patterns first."""
    stock = {one.id: one for one in instance.stock}
    items = {one.id: one for one in instance.items}
    bars = [
        make_bar(instance, stock[stock_id], pieces, count)
        for (stock_id, pieces), count in counter.items()
    ]

    def rank(bar: Bar) -> tuple[date, int, str, int, Pieces]:
        due = min((items[key].due or date.max for key, _ in bar.pieces), default=date.max)
        return due, -stock[bar.stock].length, bar.stock, -bar.count, bar.pieces

    return tuple(sorted(bars, key=rank))


def _longest_first(entry: tuple[Pattern, int]) -> tuple[Content, int]:
    return entry[0].content, entry[0].bar


class _StockNames:
    def __init__(self, reduction: Reduction) -> None:
        self.ids = reduction.stock_ids
        pieces = reduction.instance.pieces
        self.have = {
            stock.id: pieces if stock.supply is None else stock.supply
            for stock in reduction.instance.stock
        }

    def take(self, bar: int) -> str:
        stock_id = next(key for key in self.ids[bar] if self.have[key])
        self.have[stock_id] -= 1
        return stock_id


class _Namer:
    def __init__(self, instance: Instance, item_ids: tuple[tuple[str, ...], ...]) -> None:
        by_id = {item.id: item for item in instance.items}
        self.queues: list[list[Item]] = []
        for ids in item_ids:
            items = sorted((by_id[key] for key in ids), key=_due_first)
            self.queues.append([item for item in items for _ in range(item.demand)])

    def pieces(self, content: Content) -> Pieces:
        """Take pieces for one bar from the queues, by preference of a group already in it."""
        taken: list[Item] = []
        groups: set[str] = set()
        for size, number in content:
            for _ in range(number):
                item = self._next(self.queues[size], groups)
                taken.append(item)
                if item.group is not None:
                    groups.add(item.group)
        held = Counter(item.id for item in taken)
        return tuple(held.items())

    def _next(self, queue: list[Item], groups: set[str]) -> Item:
        due = queue[0].due
        for at, item in enumerate(queue):
            if item.due != due:
                break
            if item.group in groups:
                return queue.pop(at)
        return queue.pop(0)

    def unmet(self) -> Pieces:
        rest = Counter(item.id for queue in self.queues for item in queue)
        return tuple(sorted(rest.items()))


def _due_first(item: Item) -> tuple[date, str, str]:
    return item.due or date.max, item.group or "", item.id
