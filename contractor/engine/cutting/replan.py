"""Plan anew after a change (a piece re-measured, scrapped, added), disturbing little.

Sawn bars are facts: their pieces leave the demand, their bars the supply. Of the bars not yet
sawn, those whose pieces are still wanted can stay as they are. First only the bars that the change
hits are planned anew, then together with one, two, three ... of their neighbours, until the cost
is within the tolerance of the best possible one.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from random import Random

from contractor.engine.cutting.model import Bar, CutPlan, Instance, Pieces
from contractor.engine.cutting.naming import saw_order
from contractor.engine.cutting.solve import solve

Cut = tuple[str, Pieces]

#: Seconds and counted work for one small piece of the puzzle.
LITTLE_SECONDS = 0.5
LITTLE_WORK = 60_000_000


@dataclass(frozen=True)
class Replan:
    """``plan`` holds the bars still to be sawn; sawn bars are not in it.

    ``changed`` bars of it are cut otherwise than in the plan before (bars of the old plan that
    are no longer cut at all: ``dropped``); ``kept`` bars stay as they were. ``surplus`` lists
    pieces already sawn that nobody wants any more.
    """

    plan: CutPlan
    kept: int
    changed: int
    dropped: int
    surplus: Pieces


def replan(
    instance: Instance,
    previous: CutPlan,
    sawn: tuple[Bar, ...] = (),
    *,
    tolerance: float = 0.0,
    seconds: float = 5.0,
    seed: int = 1,
    cancelled: Callable[[], bool] | None = None,
) -> Replan:
    """Return a plan for what ``instance`` still needs after the bars in ``sawn``.

    ``instance`` is the whole demand as it is now and the whole supply as it was; ``previous`` the
    whole plan before. The cost of the bars not yet sawn is at most that of the best plan found
    afresh x (1 + ``tolerance``); within that, few bars change.
    """
    deadline = time.monotonic() + seconds
    rest, surplus = without_sawn(instance, sawn)
    fresh = solve(rest, seconds=seconds * 0.5, seed=seed, cancelled=cancelled)
    before = previous.bar_counter() - _counter(sawn)
    keepable = _still_wanted(rest, before)
    most = int(fresh.cost * (1 + tolerance))
    best = _Attempt(fresh.bar_counter(), fresh.unmet)
    if not fresh.unmet:
        found = _Patch(rest, keepable, most, seed, deadline, cancelled).run()
        if found is not None and _changed(found.cuts, before) <= _changed(best.cuts, before):
            best = found
    return _finish(rest, best, before, fresh, surplus)


@dataclass(frozen=True)
class _Attempt:
    cuts: Counter[Cut]
    unmet: Pieces = ()


def without_sawn(instance: Instance, sawn: tuple[Bar, ...]) -> tuple[Instance, Pieces]:
    """Return the instance less sawn pieces and bars, and the sawn pieces that are not wanted."""
    used = Counter[str]()
    done = Counter[str]()
    for bar in sawn:
        used[bar.stock] += bar.count
        for item_id, number in bar.pieces:
            done[item_id] += number * bar.count
    stock = tuple(
        one if one.supply is None else replace(one, supply=max(0, one.supply - used[one.id]))
        for one in instance.stock
    )
    items = tuple(
        replace(item, demand=max(0, item.demand - done[item.id])) for item in instance.items
    )
    for item in instance.items:
        done[item.id] -= min(done[item.id], item.demand)
    surplus = tuple(sorted((key, number) for key, number in done.items() if number > 0))
    return replace(instance, stock=stock, items=items), surplus


def _counter(bars: tuple[Bar, ...]) -> Counter[Cut]:
    counter: Counter[Cut] = Counter()
    for bar in bars:
        counter[bar.stock, tuple(sorted(bar.pieces))] += bar.count
    return counter


def _still_wanted(instance: Instance, before: Counter[Cut]) -> list[Cut]:
    """Return old bars (one entry each) whose pieces fit, are wanted and whose stock is there."""
    need = Counter({item.id: item.demand for item in instance.items})
    items = {item.id: item for item in instance.items}
    stock = {one.id: one for one in instance.stock}
    have = {one.id: instance.pieces if one.supply is None else one.supply for one in stock.values()}
    kept: list[Cut] = []
    for cut, count in sorted(before.items()):
        stock_id, pieces = cut
        if stock_id not in stock or any(item_id not in items for item_id, _ in pieces):
            continue
        width = sum(instance.width(items[item_id]) * number for item_id, number in pieces)
        for _ in range(count):
            is_wanted = all(need[item_id] >= number for item_id, number in pieces)
            if width > instance.capacity(stock[stock_id]) or not is_wanted or not have[stock_id]:
                break
            need.subtract(dict(pieces))
            have[stock_id] -= 1
            kept.append(cut)
    return kept


class _Patch:
    """Search for a plan within ``most`` that keeps as many of ``keepable`` as it can."""

    def __init__(
        self,
        instance: Instance,
        keepable: list[Cut],
        most: int,
        seed: int,
        deadline: float,
        cancelled: Callable[[], bool] | None,
    ) -> None:
        self.instance = instance
        self.keepable = keepable
        self.most = most
        self.seed = seed
        self.deadline = deadline
        self.cancelled = cancelled
        self.price = {one.id: one.cost for one in instance.stock}
        self.room = [self._room(cut) for cut in keepable]

    def run(self) -> _Attempt | None:
        for opened in self._choices():
            if time.monotonic() > self.deadline or (self.cancelled and self.cancelled()):
                return None
            found = self._try(opened)
            if found is not None:
                return found
        return None

    def _room(self, cut: Cut) -> int:
        stock = next(one for one in self.instance.stock if one.id == cut[0])
        by_id = {item.id: item for item in self.instance.items}
        return self.instance.left_of(stock, ((by_id[key], number) for key, number in cut[1]))

    def _choices(self) -> Iterator[tuple[int, ...]]:
        """Yield which kept bars to open again: none, each alone, then ever larger chance sets."""
        count = len(self.keepable)
        yield ()
        roomy = sorted(range(count), key=lambda at: (-self.room[at], at))
        for at in roomy:
            yield (at,)
        random = Random(self.seed)
        for size in range(2, count + 1):
            tries = 40 if size < 5 else 8
            for turn in range(tries):
                if turn == 0:
                    yield tuple(sorted(roomy[:size]))
                else:
                    yield tuple(sorted(random.sample(range(count), size)))

    def _try(self, opened: tuple[int, ...]) -> _Attempt | None:
        """Plan the rest with all kept bars but ``opened``; None if too dear or short."""
        kept = Counter(cut for at, cut in enumerate(self.keepable) if at not in opened)
        spent = sum(self.price[stock_id] * count for (stock_id, _), count in kept.items())
        if spent > self.most:
            return None
        bars = tuple(Bar(stock_id, n, pieces, 0, False) for (stock_id, pieces), n in kept.items())
        rest, _ = without_sawn(self.instance, bars)
        if self._volume_price(rest) + spent > self.most:
            return None
        seconds = min(LITTLE_SECONDS, max(0.01, self.deadline - time.monotonic()))
        plan = solve(rest, seconds=seconds, seed=self.seed, work_limit=LITTLE_WORK)
        if plan.unmet or plan.cost + spent > self.most:
            return None
        return _Attempt(kept + plan.bar_counter())

    def _volume_price(self, rest: Instance) -> int:
        from contractor.engine.cutting.bounds import volume_bound
        from contractor.engine.cutting.problem import reduce_instance

        return volume_bound(reduce_instance(rest).problem)


def _changed(cuts: Counter[Cut], before: Counter[Cut]) -> int:
    return sum((cuts - before).values())


def _finish(
    rest: Instance,
    best: _Attempt,
    before: Counter[Cut],
    fresh: CutPlan,
    surplus: Pieces,
) -> Replan:
    price = {one.id: one.cost for one in rest.stock}
    cost = sum(price[stock_id] * count for (stock_id, _), count in best.cuts.items())
    plan = replace(
        fresh,
        bars=saw_order(rest, best.cuts),
        cost=cost,
        bound=min(fresh.bound, cost),
        is_proven=fresh.bound == cost and (fresh.is_proven or not fresh.unmet),
        unmet=best.unmet,
    )
    changed = _changed(best.cuts, before)
    kept = sum((best.cuts & before).values())
    return Replan(plan, kept, changed, sum(before.values()) - kept, surplus)
