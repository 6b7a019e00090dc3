"""Every status against every other: only what the table allows happens."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import Any

import pytest

from contractor.api.states import Moves
from contractor.errors import WrongStateError
from inventory import states
from inventory.models import CuttingPlan, Kit, Reservation, SupplierOrder, Transfer

TABLES: list[tuple[Any, Moves, Callable[[Any, str], None]]] = [
    (Kit, states.KIT_MOVES, states.move_kit),
    (Reservation, states.RESERVATION_MOVES, states.move_reservation),
    (SupplierOrder, states.ORDER_MOVES, states.move_order),
    (Transfer, states.TRANSFER_MOVES, states.move_transfer),
    (CuttingPlan, states.PLAN_MOVES, states.move_plan),
]
PAIRS = [
    pytest.param(model, table, move, a, b, id=f"{model.__name__}-{a}-{b}")
    for model, table, move in TABLES
    for a, b in product(model.Status.values, repeat=2)
]


@pytest.mark.parametrize(("model", "table", "move", "before", "after"), PAIRS)
def test_a_pair_of_statuses(
    model: Any, table: Moves, move: Callable[[Any, str], None], before: str, after: str
) -> None:
    row = model(status=before)
    if after in table[before]:
        move(row, after)
        assert row.status == after
    else:
        with pytest.raises(WrongStateError) as refused:
            move(row, after)
        assert refused.value.facts["status_now"] == before
        assert row.status == before


def test_the_tables_name_every_status() -> None:
    for model, table, _ in TABLES:
        assert set(table) == set(model.Status.values)


def test_the_way_of_a_kit() -> None:
    """design: open, pulling, staged, loaded, returned or used; ours reserves before it pulls."""
    kit = Kit(status="open")
    for status in ("reserved", "pulling", "staged", "loaded", "used"):
        states.move_kit(kit, status)
    assert states.KIT_MOVES["used"] == frozenset()
