"""Orders of several lines on few hot parts: our service beside bare SQL of the same pattern.

Clients are threads in a few processes. All write a reservation with its lines, then conditional
updates in key order. The bare scripts send one statement after the other, as is usual, and skip
all checks; the minimal one writes no event either and so need not know the branch. The service
sends what belongs together in one message.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime
from functools import partial
from random import Random
from typing import Any

from django.db import DatabaseError, OperationalError, connection, connections
from django.db.models import Sum

from contractor.api.models import Branch, Company
from inventory import services
from inventory.amounts import Delivery, Need
from inventory.errors import InsufficientStockError
from inventory.models import Part, Reservation, ReservationLine, StockLevel

AT = datetime(2026, 3, 2, 15, tzinfo=UTC)
PROCESSES, THREADS, PARTS = 4, 8, 10
PLENTY, SCARCE = 10**7, 60
WARM_UP = 10  # orders of each client before its clock starts: connections of a service are warm
Row = dict[str, Any]
Order = list[tuple[int, int]]  # (part, quantity), in whatever order the customer named them


VARIANTS = {
    "service": "service: inventory.services.reserve",
    "bare": "bare SQL: with branch and event",
    "minimal": "bare SQL: minimal",
}
ROUNDS = 5


def measure(seconds: float) -> list[Row]:
    """Return a row per variant with plenty of stock, one with scarce stock, and the ratios.

    The variants take turns, five times each, so that a busy machine hits all alike.
    """
    turns: dict[str, list[Row]] = {key: [] for key in VARIANTS}
    for _ in range(ROUNDS):
        for key in VARIANTS:
            turns[key].append(_run(key, seconds / ROUNDS, PLENTY, WARM_UP))
    rows = [_together(VARIANTS[key], found) for key, found in turns.items()]
    scarce = _together("service, stock runs out", [_run("service", seconds / 2, SCARCE, 0)])
    scarce["per_second"] = None  # all the stock is gone at once; what counts are the faults
    ratios = [
        {
            "what": "ratio",
            "of": rows[0]["variant"],
            "to": row["variant"],
            "ratio": rows[0]["per_second"] / row["per_second"],
        }
        for row in rows[1:]
    ]
    return [*rows, scarce, *ratios]


def _together(variant: str, turns: Sequence[Row]) -> Row:
    return {
        "what": "orders",
        "variant": variant,
        "orders": sum(turn["orders"] for turn in turns),
        "refused": sum(turn["refused"] for turn in turns),
        "per_second": sum(turn["per_second"] for turn in turns) / len(turns),
        "p99_ms": max(turn["p99_ms"] for turn in turns),
        "deadlocks": sum(turn["deadlocks"] for turn in turns),
        "oversold": sum(turn["oversold"] for turn in turns),
    }


def _run(key: str, seconds: float, stock: int, warm_up: int) -> Row:
    branch = _warehouse(stock)
    command = [sys.executable, "-m", "inventory.bench_worker", "client", key, str(branch.pk)]
    clients = [
        subprocess.Popen(  # noqa: S603
            [*command, str(seconds), str(warm_up), str(number)],
            stdout=subprocess.PIPE,
            env=os.environ,
        )
        for number in range(PROCESSES)
    ]
    found = [json.loads(client.communicate()[0])[0] for client in clients]
    times = sorted(one for part in found for one in part["times"])
    return {
        "orders": len(times),
        "refused": sum(part["refused"] for part in found),
        "per_second": sum(len(part["times"]) / part["seconds"] for part in found),
        "p99_ms": times[int(len(times) * 0.99)] * 1000 if times else 0.0,
        "deadlocks": sum(part["deadlocks"] for part in found),
        "oversold": _oversold(branch),
    }


def _warehouse(stock: int) -> Branch:
    company = Company.objects.create(name=f"bench {time.time_ns()}")
    branch = Branch.objects.create(company=company, name="bench")
    parts = [
        Part.objects.create(company=company, code=f"H{number}", description="hot", kind="each")
        for number in range(PARTS)
    ]
    goods = [Delivery(part.pk, stock, quantity=stock) for part in parts]
    services.receive(branch.pk, goods, at=AT)
    return branch


def _oversold(branch: Branch) -> int:
    """Return units promised beyond what is on hand, or not equal to what orders hold."""
    wrong = 0
    for level in StockLevel.objects.filter(branch=branch):
        held = ReservationLine.objects.filter(
            stock_level=level, reservation__status=Reservation.Status.HELD
        ).aggregate(total=Sum("outstanding"))["total"]
        wrong += max(0, level.reserved - level.on_hand) + abs(level.reserved - (held or 0))
    return wrong


def client(arguments: Sequence[str]) -> list[Row]:
    """Run a process's threads for so many seconds; return times of orders placed and faults."""
    key, branch_pk, seconds, warm_up, number = arguments
    place = partial(PLACES[key], int(branch_pk))
    parts = _parts_of(int(branch_pk))
    start = threading.Barrier(THREADS, timeout=60)

    def run(thread: int) -> tuple[Counter[str], list[float]]:
        random = Random(int(number) * 100 + thread)
        times: list[float] = []
        connection.ensure_connection()
        names = Counter(_outcome(place, _order(random, parts)) for _ in range(int(warm_up)))
        start.wait()
        until = time.perf_counter() + float(seconds)
        while (begun := time.perf_counter()) < until:
            name = _outcome(place, _order(random, parts))
            names[name] += 1
            if name == "placed":
                times.append(time.perf_counter() - begun)
        connections.close_all()
        return names, times

    with ThreadPoolExecutor(THREADS) as pool:
        found = list(pool.map(run, range(THREADS)))
    faults = {name: sum(names[name] for names, _ in found) for name in ("refused", "deadlocks")}
    times = [one for _, mine in found for one in mine]
    return [{"times": times, "seconds": float(seconds), **faults}]


def _order(random: Random, parts: Sequence[int]) -> Order:
    chosen = random.sample(parts, random.randint(2, 5))
    return [(part, random.randint(1, 3)) for part in chosen]


def _parts_of(branch_pk: int) -> list[int]:
    rows = StockLevel.objects.filter(branch=branch_pk).order_by("pk")
    return list(rows.values_list("part", flat=True))


def _outcome(place: Callable[[Order], None], order: Order) -> str:
    try:
        place(order)
    except InsufficientStockError:
        return "refused"
    except OperationalError:
        return "deadlocks"
    return "placed"


def _by_service(branch_pk: int, order: Order) -> None:
    needs = [Need(part, quantity) for part, quantity in order]
    services.reserve(branch_pk, needs, at=AT, reference="bench")


_RESERVATION = """
    INSERT INTO inventory_reservation
        (branch_id, reference, priority, status, version, created_at, updated_at)
    VALUES (%s, 'bench', 1, 'held', 1, now(), now()) RETURNING id
"""
_LINE = """
    INSERT INTO inventory_reservationline
        (reservation_id, part_id, stock_level_id, quantity, outstanding, issued)
    VALUES
"""
_TAKE = """
    UPDATE inventory_stocklevel SET reserved = reserved + %s
    WHERE id = %s AND on_hand >= reserved + %s
"""
_LEVELS = """
    SELECT id, part_id FROM inventory_stocklevel
    WHERE branch_id = %s AND part_id = ANY(%s) AND on_hand > reserved ORDER BY id
"""
_EVENT = """
    INSERT INTO api_event
        (company_id, branch_id, kind, subject, subject_version, actor, data, at)
    VALUES (%s, %s, 'reservation.held', %s, 1, 'bench', '{}', now())
"""


def _by_bare_sql(branch_pk: int, order: Order) -> None:
    def write_event(cursor: Any, reservation: int) -> None:
        cursor.execute(
            "SELECT id, company_id, time_zone FROM api_branch WHERE id = %s", [branch_pk]
        )
        company_pk = cursor.fetchone()[1]
        cursor.execute(_EVENT, [company_pk, branch_pk, f"reservation:{reservation}"])

    _by_sql(branch_pk, order, write_event)


def _by_minimal_sql(branch_pk: int, order: Order) -> None:
    _by_sql(branch_pk, order, lambda cursor, reservation: None)


def _by_sql(branch_pk: int, order: Order, write_event: Callable[[Any, int], None]) -> None:
    with connection.cursor() as cursor, suppress(_Refused):
        cursor.execute("BEGIN")
        try:
            _place(cursor, branch_pk, order, write_event)
        except (_Refused, DatabaseError):
            cursor.execute("ROLLBACK")
            raise
        cursor.execute("COMMIT")


class _Refused(Exception):
    """Not enough stock."""


def _place(
    cursor: Any, branch_pk: int, order: Order, write_event: Callable[[Any, int], None]
) -> None:
    cursor.execute(_RESERVATION, [branch_pk])
    reservation: int = cursor.fetchone()[0]
    cursor.execute(_LEVELS, [branch_pk, [part for part, _ in order]])
    levels = {part: level for level, part in cursor.fetchall()}
    if len(levels) < len(order):
        raise _Refused
    write_event(cursor, reservation)
    values = [(reservation, part, levels[part], n, n, 0) for part, n in order]
    places = ", ".join(["(%s, %s, %s, %s, %s, %s)"] * len(values))
    cursor.execute(_LINE + places, [item for value in values for item in value])
    for level, quantity in sorted((levels[part], n) for part, n in order):
        cursor.execute(_TAKE, [quantity, level, quantity])
        if cursor.rowcount != 1:
            raise _Refused


PLACES: dict[str, Callable[[int, Order], None]] = {
    "service": _by_service,
    "bare": _by_bare_sql,
    "minimal": _by_minimal_sql,
}
