"""Re-planning: sawn bars stay, cost within the tolerance, few bars change."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from contractor.engine.cutting import CutPlan, Instance, Item, Stock, solve
from contractor.engine.cutting.check import check_plan
from contractor.engine.cutting.model import Bar
from contractor.engine.cutting.replan import replan, without_sawn
from tests.engine.cutting.instances import as_json


def brace_job(seed: int) -> Instance:
    """Sixty beams around 92 in (ticks), two stock lengths and six offcuts."""
    random = Random(seed)
    stock = [Stock("20 ft", 15_360, 28_000), Stock("30 ft", 23_040, 42_000)]
    for n in range(6):
        length = random.randrange(6_000, 14_000)
        stock.append(Stock(f"offcut {n}", length, length, 1, True))
    lengths = [random.randrange(5_400, 6_400, 4) for _ in range(60)]
    items = tuple(Item(f"B{n}", length, 1) for n, length in enumerate(lengths))
    return Instance(tuple(stock), items, kerf=8, end_trim=16, min_offcut=4_800)


def remeasured(instance: Instance, item_id: str, by: int) -> Instance:
    items = tuple(
        replace(item, length=item.length + by) if item.id == item_id else item
        for item in instance.items
    )
    return replace(instance, items=items)


def document(instance: Instance) -> dict[str, object]:
    return {
        "schema": "cut-stock/1",
        "kerf": instance.kerf,
        "end_trim": instance.end_trim,
        "min_offcut": instance.min_offcut,
        "stock": [
            {"id": s.id, "length": s.length, "cost": s.cost, "supply": s.supply}
            for s in instance.stock
        ],
        "items": [{"id": i.id, "length": i.length, "demand": i.demand} for i in instance.items],
    }


def first_bars(plan: CutPlan, number: int, without: str) -> tuple[Bar, ...]:
    free = [bar for bar in plan.bars if all(key != without for key, _ in bar.pieces)]
    return tuple(replace(bar, count=1) for bar in free[:number])


@pytest.mark.parametrize(("seed", "by"), [(1, 12), (2, -20), (3, 64), (4, -4)])
@pytest.mark.parametrize("tolerance", [0.0, 0.005])
def test_one_remeasured_beam_changes_few_bars(seed: int, by: int, tolerance: float) -> None:
    before = brace_job(seed)
    plan = solve(before, seconds=5, seed=1)
    changed = remeasured(before, "B7", by)
    sawn = first_bars(plan, 3, without="B7")
    answer = replan(changed, plan, sawn, tolerance=tolerance)

    rest, surplus = without_sawn(changed, sawn)
    assert check_plan(document(rest), as_json(answer.plan)) == []
    assert surplus == answer.surplus == ()
    fresh = solve(rest, seconds=5, seed=2)
    assert answer.plan.cost <= fresh.cost * (1 + tolerance)
    untouched = plan.bar_counter()
    untouched.subtract({(bar.stock, tuple(sorted(bar.pieces))): bar.count for bar in sawn})
    anew = sum((fresh.bar_counter() - untouched).values())
    assert answer.changed <= anew / 2
    assert answer.changed == sum((answer.plan.bar_counter() - untouched).values())
    if tolerance:
        assert answer.changed <= 3


def test_sawn_pieces_leave_the_demand_and_sawn_bars_the_supply() -> None:
    instance = brace_job(5)
    sawn = (Bar("offcut 0", 1, (("B1", 1),), 0, False), Bar("20 ft", 1, (("B2", 1),), 0, False))
    rest, surplus = without_sawn(instance, sawn)
    supply = {one.id: one.supply for one in rest.stock}
    demand = {one.id: one.demand for one in rest.items}
    assert (supply["offcut 0"], supply["20 ft"]) == (0, None)
    assert (demand["B1"], demand["B2"], demand["B3"], surplus) == (0, 0, 1, ())


def test_a_sawn_piece_that_nobody_wants_any_more_is_surplus() -> None:
    instance = brace_job(5)
    less = replace(
        instance, items=tuple(i if i.id != "B1" else replace(i, demand=0) for i in instance.items)
    )
    plan = solve(instance, seconds=5)
    sawn = (Bar("20 ft", 1, (("B1", 1),), 0, False),)
    assert replan(less, plan, sawn).surplus == (("B1", 1),)


def test_nothing_changed_means_no_bar_changes() -> None:
    instance = brace_job(6)
    plan = solve(instance, seconds=5)
    answer = replan(instance, plan)
    assert (answer.changed, answer.dropped) == (0, 0)
    assert answer.plan.cost == plan.cost


def test_an_added_piece_that_no_supply_covers_is_unmet() -> None:
    instance = Instance((Stock("bar", 100, 5, 1),), (Item("a", 60, 1),))
    plan = solve(instance)
    more = replace(instance, items=(*instance.items, Item("b", 50, 1)))
    answer = replan(more, plan)
    assert [key for key, _ in answer.plan.unmet] in (["a"], ["b"])
