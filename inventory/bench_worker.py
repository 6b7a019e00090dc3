"""One measurement of ``inventory.bench`` in a process of its own; prints JSON rows."""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import django

django.setup()

from django.db import connection  # noqa: E402 - models exist only after the set-up

from contractor.api.models import Branch, Company  # noqa: E402
from inventory import bench_orders  # noqa: E402
from inventory.models import Balance, LedgerEntry, Part, StockLevel  # noqa: E402
from inventory.queries import position_at, positions_at  # noqa: E402

START = datetime(2025, 1, 1, tzinfo=UTC)
LEDGER_PARTS = 50
LOOKS = 200
Row = dict[str, Any]


def ledger(database: str, sizes: Sequence[int]) -> list[Row]:
    """Grow one branch's ledger step by step; measure past positions at each size."""
    branch = Branch.objects.create(company=Company.objects.create(name="bench"), name="bench")
    levels = [_level(branch, number) for number in range(LEDGER_PARTS)]
    rows, begun = [], 0
    for size in sizes:
        _fill(branch, levels, begun // LEDGER_PARTS, size // LEDGER_PARTS)
        begun = size
        rows.append(_measure(database, branch, levels, size // LEDGER_PARTS))
    return rows


def _level(branch: Branch, number: int) -> StockLevel:
    part = Part.objects.create(
        company=branch.company, code=f"P{number}", description="bench", kind="each"
    )
    Balance.objects.create(branch=branch, part=part)
    return StockLevel.objects.create(branch=branch, part=part)


def _fill(branch: Branch, levels: Sequence[StockLevel], first: int, last: int) -> None:
    """Write receipts of one unit at one dollar, a minute apart, for every part in turn."""
    at = (
        "datetime('2025-01-01', '+' || n || ' minutes')"
        if connection.vendor == "sqlite"
        else "timestamptz '2025-01-01 00:00Z' + n * interval '1 minute'"
    )
    statement = f"""
        WITH RECURSIVE numbers(n) AS (
            SELECT %s UNION ALL SELECT n + 1 FROM numbers WHERE n < %s
        )
        INSERT INTO inventory_ledgerentry
            (branch_id, part_id, seq, at, kind, stock_level_id, change, quantity, cents,
             balance_quantity, balance_cents, place_balance, reason, reference, actor)
        SELECT %s, %s, n, {at}, 'receipt', %s, 1, 1, 100, n, n * 100, n, '', '', 'bench'
        FROM numbers
    """  # noqa: S608 - nothing but our own two time expressions goes into the text
    with connection.cursor() as cursor:
        for level in levels:
            cursor.execute(statement, [first + 1, last, branch.pk, level.part_id, level.pk])
        if connection.vendor == "postgresql":
            cursor.execute("ANALYZE inventory_ledgerentry")
    Balance.objects.update(quantity=last, cents=last * 100, seq=last)
    StockLevel.objects.update(on_hand=last)


def _measure(database: str, branch: Branch, levels: Sequence[StockLevel], entries: int) -> Row:
    random = Random(entries)
    times = []
    for _ in range(LOOKS):
        minute = random.randint(1, entries)
        at = START + timedelta(minutes=minute)
        part = random.choice(levels).part_id
        begun = time.perf_counter()
        found = position_at(branch.pk, part, at)
        times.append((time.perf_counter() - begun) * 1000)
        if (found.quantity, found.cents) != (minute, minute * 100):
            raise AssertionError(f"the ledger says {found} at minute {minute}")
    begun = time.perf_counter()
    whole = positions_at([branch.pk], START + timedelta(minutes=entries // 2))
    branch_ms = (time.perf_counter() - begun) * 1000
    if sum(one.quantity for one in whole) != LEDGER_PARTS * (entries // 2):
        raise AssertionError("the branch's position is wrong")
    return {
        "what": "ledger",
        "database": database,
        "entries": LedgerEntry.objects.count(),
        "median_ms": statistics.median(times),
        "worst_ms": max(times),
        "branch_ms": branch_ms,
    }


def main(arguments: Sequence[str]) -> None:
    runs: dict[str, Callable[[], list[Row]]] = {
        "ledger": lambda: ledger(arguments[1], [int(size) for size in arguments[2:]]),
        "orders": lambda: bench_orders.measure(float(arguments[1])),
        "client": lambda: bench_orders.client(arguments[1:]),
    }
    sys.stdout.write(json.dumps(runs[arguments[0]]()))


if __name__ == "__main__":
    main(sys.argv[1:])
