"""The ledger cannot be changed, remembers every past moment, and loses no cent."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from hypothesis import given
from hypothesis import strategies as st

from contractor.api.models import Branch
from inventory import services
from inventory.allocation import LEVEL
from inventory.amounts import Delivery
from inventory.models import Balance, LedgerEntry, Part, StockLevel
from inventory.posting import value_of
from inventory.queries import Position, position_at, positions_at
from inventory.sealing import REFUSAL
from tests.inventory.conftest import AT


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE inventory_ledgerentry SET quantity = 1",
        "DELETE FROM inventory_ledgerentry",
        "DELETE FROM inventory_ledgerentry WHERE id > 0",
    ],
)
def test_the_database_refuses_to_change_an_entry(stocked: Branch, statement: str) -> None:
    before = list(LedgerEntry.objects.values_list())
    with (
        pytest.raises(DatabaseError, match=REFUSAL),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)
    assert list(LedgerEntry.objects.values_list()) == before


def test_neither_does_the_orm_change_one(stocked: Branch) -> None:
    entry = LedgerEntry.objects.order_by("pk")[0]
    entry.cents = 1
    with pytest.raises(DatabaseError, match=REFUSAL), transaction.atomic():
        entry.save()
    with pytest.raises(DatabaseError), transaction.atomic():
        LedgerEntry.objects.all().delete()


@pytest.mark.django_db(transaction=True)
def test_flush_is_the_one_way_to_empty_it(branch: Branch, bolt: Part) -> None:
    services.receive(branch.pk, [Delivery(bolt.pk, 100, quantity=1)], at=AT)
    call_command("flush", interactive=False, verbosity=0)
    assert LedgerEntry.objects.count() == 0


def test_the_tables_hold_the_invariants_by_themselves(stocked: Branch) -> None:
    for change in ({"reserved": 101}, {"reserved": -1}, {"on_hand": -1}):
        with pytest.raises(DatabaseError), transaction.atomic():
            StockLevel.objects.update(**change)
    with pytest.raises(DatabaseError), transaction.atomic():
        Balance.objects.update(quantity=0)


def test_a_past_moment_is_remembered(branch: Branch, bolt: Part) -> None:
    days = [AT + timedelta(days=n) for n in range(5)]
    services.receive(branch.pk, [Delivery(bolt.pk, 1_000, quantity=10)], at=days[0])
    services.receive(branch.pk, [Delivery(bolt.pk, 2_000, quantity=10)], at=days[2])
    level = StockLevel.objects.get()
    services.adjust((LEVEL, level.pk), -5, reason="used in the shop", at=days[4])
    seen = [position_at(branch.pk, bolt.pk, day) for day in days]
    assert [(one.quantity, one.cents) for one in seen] == [
        (10, 1_000),
        (10, 1_000),
        (20, 3_000),
        (20, 3_000),
        (15, 2_250),
    ]
    assert position_at(branch.pk, bolt.pk, AT - timedelta(seconds=1)).quantity == 0
    assert positions_at([branch.pk], days[3]) == [Position(branch.pk, bolt.pk, 20, 3_000)]
    assert positions_at([branch.pk], AT - timedelta(days=1)) == []


def test_entries_are_never_dated_before_earlier_ones(branch: Branch, bolt: Part) -> None:
    services.receive(branch.pk, [Delivery(bolt.pk, 1_000, quantity=10)], at=AT)
    late = AT - timedelta(days=1)
    services.receive(branch.pk, [Delivery(bolt.pk, 1_000, quantity=10)], at=late)
    assert list(LedgerEntry.objects.order_by("seq").values_list("at", flat=True)) == [AT, AT]


def test_the_moving_average_of_a_worked_example(branch: Branch, bolt: Part) -> None:
    """Perpetual moving average, common practice in cost accounting (IAS 2.27 allows it).

    100 at 10.00, then 50 at 13.00: average 11.00; 60 leave for 660.00; 30 at 14.00 come:
    average (990 + 420) / 120 = 11.75; 20 leave for 235.00; 100 stay at 1,175.00.
    """
    services.receive(branch.pk, [Delivery(bolt.pk, 100_000, quantity=100)], at=AT)
    services.receive(branch.pk, [Delivery(bolt.pk, 65_000, quantity=50)], at=AT)
    key = (LEVEL, StockLevel.objects.get().pk)
    services.adjust(key, -60, reason="out", at=AT)
    assert LedgerEntry.objects.latest("pk").cents == -66_000
    services.receive(branch.pk, [Delivery(bolt.pk, 42_000, quantity=30)], at=AT)
    services.adjust(key, -20, reason="out", at=AT)
    assert LedgerEntry.objects.latest("pk").cents == -23_500
    head = Balance.objects.get()
    assert (head.quantity, head.cents) == (100, 117_500)


@given(st.integers(1, 10**9), st.integers(0, 10**12), st.data())
def test_the_rounding_rule_is_halves_up_and_loses_nothing(
    quantity: int, cents: int, data: st.DataObject
) -> None:
    part = data.draw(st.integers(0, quantity))
    head = Balance(quantity=quantity, cents=cents)
    exact = Fraction(cents * part, quantity)
    value = value_of(head, part)
    assert value - exact <= Fraction(1, 2) and exact - value < Fraction(1, 2)
    assert value_of(head, quantity) == cents
    assert 0 <= value <= cents
