"""Locks: each race is won, and lost once the lock is taken away. PostgreSQL only."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from typing import Any

import pytest
from django.db import DatabaseError, connection, connections
from django.db.models import F

from contractor.api.models import Branch
from contractor.errors import DomainError
from inventory import locks, services
from inventory.allocation import LEVEL
from inventory.amounts import Delivery, Need
from inventory.models import Balance, Kit, Part, Reservation, StockLevel
from inventory.queries import stock_faults
from inventory.services import reserving
from tests.inventory.conftest import AT, kit_of

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]


def race(verbs: Sequence[Callable[[], object]]) -> dict[str, int]:
    """Run ``verbs`` at the same moment, one thread and connection each; count the outcomes."""
    assert connection.vendor == "postgresql"
    start = threading.Barrier(len(verbs))
    outcomes: Counter[str] = Counter()
    guard = threading.Lock()

    def run(verb: Callable[[], object]) -> None:
        start.wait()
        try:
            verb()
            name = "done"
        except (DomainError, DatabaseError) as error:
            name = type(error).__name__
        finally:
            connections.close_all()
        with guard:
            outcomes[name] += 1

    threads = [threading.Thread(target=run, args=(verb,)) for verb in verbs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return dict(outcomes)


@contextmanager
def slowly(monkeypatch: pytest.MonkeyPatch, module: object, name: str) -> Iterator[None]:
    """Have everybody arrive at ``module.name`` before anybody goes on (or wait a second)."""
    real = getattr(module, name)
    meet = threading.Barrier(2)

    def wait(*args: Any, **kwargs: Any) -> Any:
        answer = real(*args, **kwargs)
        with suppress(threading.BrokenBarrierError):
            meet.wait(timeout=1)
        return answer

    monkeypatch.setattr(module, name, wait)
    yield
    monkeypatch.setattr(module, name, real)


def without_lock(model: Any) -> Callable[[int], Any]:
    return lambda pk: model.objects.get(pk=pk)


def test_concurrent_kits_never_overbook(stocked: Branch, bolt: Part) -> None:
    kits = [kit_of(stocked, Need(bolt.pk, 30), reference=f"J-{n}") for n in range(8)]
    verbs = [partial(services.reserve_kit, kit.pk, at=AT) for kit in kits]
    assert race(verbs) == {"done": 3, "InsufficientStockError": 5}
    assert StockLevel.objects.get().reserved == 90
    assert stock_faults(stocked.pk) == []


def test_without_the_condition_only_the_fence_in_the_table_is_left(
    stocked: Branch, bolt: Part, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The race is lost (a database error, no refusal) once the update has no condition."""

    def careless(reservation: Reservation, holds: Any) -> None:
        for one in holds:
            row = StockLevel.objects.get(pk=one.place[1])
            StockLevel.objects.filter(pk=row.pk).update(reserved=F("reserved") + one.quantity)

    monkeypatch.setattr("inventory.services.reserving.hold", careless)
    kits = [kit_of(stocked, Need(bolt.pk, 60), reference=f"J-{n}") for n in range(2)]
    with slowly(monkeypatch, reserving, "choose"):
        outcomes = race([partial(services.reserve_kit, kit.pk, at=AT) for kit in kits])
    assert outcomes == {"done": 1, "IntegrityError": 1}


def test_one_kit_is_reserved_once(stocked: Branch, bolt: Part) -> None:
    kit = kit_of(stocked, Need(bolt.pk, 10))
    outcomes = race([lambda: services.reserve_kit(kit.pk, at=AT)] * 6)
    assert outcomes == {"done": 1, "WrongStateError": 5}
    assert StockLevel.objects.get().reserved == 10


def test_without_its_lock_a_kit_is_reserved_twice_or_the_fence_breaks_it(
    stocked: Branch, bolt: Part, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(locks, "lock_kit", without_lock(Kit))
    kit = kit_of(stocked, Need(bolt.pk, 10))
    with slowly(monkeypatch, locks, "lock_kit"):
        outcomes = race([lambda: services.reserve_kit(kit.pk, at=AT)] * 2)
    assert outcomes == {"done": 1, "IntegrityError": 1}  # the constraint one_hold_per_kit


def adjust_each(stocked: Branch, times: int) -> dict[str, int]:
    key = (LEVEL, StockLevel.objects.get().pk)
    return race([lambda: services.adjust(key, 1, reason="found", at=AT)] * times)


def test_every_entry_of_concurrent_adjustments_counts(stocked: Branch, bolt: Part) -> None:
    assert adjust_each(stocked, 12) == {"done": 12}
    assert StockLevel.objects.get().on_hand == 112
    assert Balance.objects.get(part=bolt).seq == 13
    assert stock_faults(stocked.pk) == []


def test_without_the_lock_on_the_head_an_entry_is_lost(
    stocked: Branch, bolt: Part, monkeypatch: pytest.MonkeyPatch
) -> None:
    def read(branch_pk: int, part_pks: Any) -> dict[int, Balance]:
        rows = Balance.objects.filter(branch=branch_pk, part__in=list(part_pks))
        return {row.part_id: row for row in rows}

    monkeypatch.setattr(locks, "lock_balances", read)
    with slowly(monkeypatch, locks, "lock_balances"):
        outcomes = adjust_each(stocked, 2)
    assert outcomes == {"done": 1, "IntegrityError": 1}  # the constraint ledger_seq_once


def test_lines_in_any_order_never_deadlock(branch: Branch, bolt: Part) -> None:
    parts = [bolt]
    for number in range(4):
        parts.append(
            Part.objects.create(
                company=branch.company, code=f"P{number}", description="part", kind="each"
            )
        )
    goods = [Delivery(part.pk, 1000, quantity=1000) for part in parts]
    services.receive(branch.pk, goods, at=AT)

    def order(turn: int) -> Callable[[], object]:
        mine = [parts[(turn * 2 + n) % 5] for n in range(4)][:: (-1) ** turn]
        needs = [Need(part.pk, 3) for part in mine]

        def verb() -> None:
            for _ in range(5):
                held = services.reserve(branch.pk, needs, at=AT)
                services.release(held.pk)
                services.reserve(branch.pk, needs, at=AT)

        return verb

    assert race([order(turn) for turn in range(8)]) == {"done": 8}
    assert sum(StockLevel.objects.values_list("reserved", flat=True)) == 8 * 5 * 4 * 3
    assert stock_faults(branch.pk) == []


def test_counting_beside_reserving_keeps_the_fence(stocked: Branch, bolt: Part) -> None:
    key = (LEVEL, StockLevel.objects.get().pk)
    verbs: list[Callable[[], object]] = [
        lambda: services.reserve(stocked.pk, [Need(bolt.pk, 60)], at=AT),
        lambda: services.count(key, 50, reason="flood", at=AT),
    ]
    outcomes = race(verbs)
    assert outcomes in (
        {"done": 1, "BelowReservedError": 1},
        {"done": 1, "InsufficientStockError": 1},
    )
    assert stock_faults(stocked.pk) == []


def test_locks_are_taken_before_updates(
    stocked: Branch, bolt: Part, django_assert_max_num_queries: Any
) -> None:
    """FOR UPDATE on the head, then on the place, before the first UPDATE."""
    key = (LEVEL, StockLevel.objects.get().pk)
    with django_assert_max_num_queries(30) as seen:
        services.adjust(key, 1, reason="found", at=AT)
    said = [query["sql"] for query in seen.captured_queries]
    locked = [at for at, sql in enumerate(said) if "FOR UPDATE" in sql]
    updates = [at for at, sql in enumerate(said) if sql.startswith("UPDATE")]
    assert len(locked) == 2 and max(locked) < min(updates)
    assert "inventory_balance" in said[locked[0]] and "inventory_stocklevel" in said[locked[1]]
