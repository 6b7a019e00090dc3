"""Prices near the limits, regions without bar counts, coarse units, plans that were cut short.

The optima come from exhaustive search over the subsets of the pieces, outside the package; those
of the first test can be added up by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from contractor.engine.cutting import plan_document, read_instance, solve
from contractor.engine.cutting.check import check_plan
from contractor.engine.cutting.master import Region
from contractor.engine.cutting.solve import Progress


def instance(
    stock: Sequence[tuple[int, int, int | None]], items: Sequence[tuple[int, int]], **more: Any
) -> Any:
    """Return a ``cut-stock/1`` of stock (length, cost, supply) and items (length, demand)."""
    return {
        "schema": "cut-stock/1",
        "name": "edge",
        "kerf": 1,
        "stock": [
            {"id": f"s{at}", "length": length, "cost": cost, "supply": supply}
            for at, (length, cost, supply) in enumerate(stock)
        ],
        "items": [
            {"id": f"p{at}", "length": length, "demand": demand}
            for at, (length, demand) in enumerate(items)
        ],
        **more,
    }


@pytest.mark.parametrize(
    ("stock", "items", "optimum"),
    [
        # 11 + 11 + 10 + 19 and three cuts are 54: one bar of 60
        ([(60, 3 * 10**9, None), (45, 15 * 10**8, 1)], [(11, 2), (10, 1), (19, 1)], 3 * 10**9),
        ([(60, 4 * 10**9, None)], [(13, 1), (15, 2), (10, 3), (18, 2)], 8 * 10**9),
    ],
)
def test_dear_bars_are_proven_at_the_optimum(
    stock: Sequence[tuple[int, int, int | None]], items: Sequence[tuple[int, int]], optimum: int
) -> None:
    plan = solve(read_instance(instance(stock, items)), seconds=20)
    assert (plan.cost, plan.bound, plan.is_proven) == (optimum, optimum, True)


def test_a_supply_that_is_short_of_dear_bars_is_planned() -> None:
    stock = [(240, 320_000, 2), (108, 280_000, None), (120, 280_000, None), (132, 280_000, None)]
    stock += [(144, 240_000, None), (156, 120_000, None)]
    items = [(19, 3), (90, 4), (22, 17), (39, 3), (8, 29), (40, 24), (204, 4)]
    document = instance(stock, items)
    plan = solve(read_instance(document), seconds=20)
    assert check_plan(document, plan_document(plan)) == []
    assert plan.unmet  # 204 fits the bar of 240 alone, and there are two


@pytest.mark.parametrize(
    ("document", "optimum"),
    [
        (
            instance(
                [(476, 9, None), (601, 24, None), (736, 25, 4)],
                [(175, 2), (255, 1), (255, 1), (95, 1), (95, 1), (65, 1), (235, 2), (235, 1)],
                end_trim=7,
                min_offcut=5,
            ),
            45,
        ),
        (
            instance(
                [(12, 30, None), (14, 30, 1), (19, 24, 3), (20, 12, 4), (11, 0, 1), (7, 30, 1)],
                [(3, 7), (4, 5)],
                kerf=0,
                min_offcut=20,
            ),
            24,
        ),
    ],
)
def test_regions_without_bar_counts_end(document: Any, optimum: int) -> None:
    plan = solve(read_instance(document), seconds=30)
    assert (plan.cost, plan.is_proven) == (optimum, True)


@pytest.mark.parametrize(
    ("box", "tails", "is_empty"),
    [
        (((0, 3), (0, 0), (0, 0)), {1: (1, 5)}, True),
        (((0, 3), (0, 1), (0, 0)), {1: (1, 5)}, False),
        (((2, 3), (0, 9), (0, 9)), {0: (0, 1)}, True),
        (((0, 3), (4, 2), (0, 9)), {}, True),
        (((1, 3), (1, 2), (0, 9)), {0: (2, 2), 2: (0, 0)}, False),
    ],
)
def test_a_region_knows_that_it_holds_no_counts(
    box: tuple[tuple[int, int], ...], tails: dict[int, tuple[int, int]], is_empty: bool
) -> None:
    assert Region(box, tails).is_empty() == is_empty


def test_a_bar_shorter_than_the_coarse_unit_does_no_harm() -> None:
    stock = [(10_000_000, 1000, None), (200, 1, None)]
    document = instance(stock, [(4_000_000, 3), (100, 5), (3_500_000, 3)], kerf=0)
    told: list[Progress] = []
    plan = solve(read_instance(document), seconds=20, progress=told.append)
    assert check_plan(document, plan_document(plan)) == []
    assert told
    assert all(one.bound <= plan.cost <= one.cost for one in told)


def test_a_plan_cut_short_does_not_claim_that_the_supply_is() -> None:
    """What no bar was found for at once finds one with time; until then nothing is proven."""
    stock = [(926, 0, 1), (661, 0, 1), (831, 0, 1), (657, 0, 1), (763, 0, 1), (928, 0, 1)]
    document = instance([*stock, (804, 0, 1)], [(442, 7), (332, 5)], kerf=5)
    hasty = solve(read_instance(document), work_limit=0)
    assert hasty.unmet
    assert not hasty.is_proven
    patient = solve(read_instance(document), seconds=30)
    assert (patient.unmet, patient.is_proven) == ((), True)
