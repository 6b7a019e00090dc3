"""Measure the cutting solver on a folder of instance files, beside the plain rules.

Each file holds a ``cut-stock-set/1`` (or one ``cut-stock/1``). Every plan goes through the
independent checker, and a plan called proven is compared with the known optimum. The limit and
the times of the table are seconds of the processor: the solver runs in one thread of one process,
so on an idle machine they are seconds of the clock, and on a busy one they still compare.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from contractor.engine.cutting.check import check_plan
from contractor.engine.cutting.document import plan_document, read_instance
from contractor.engine.cutting.heuristics import best_rule
from contractor.engine.cutting.problem import reduce_instance
from contractor.engine.cutting.solve import solve
from contractor.engine.errors import InputError

SECONDS = 60.0
#: On a busy machine a limit of processor seconds may take so many times as long by the clock.
PATIENCE = 20.0


@dataclass(frozen=True)
class Row:
    """One instance: costs, times in seconds (of the clock and of the processor)."""

    file: str
    name: str
    pieces: int
    cost: int
    bound: int
    proven: bool
    known: int | None
    first_fit: int
    best_fit: int
    seconds: float
    cpu_seconds: float
    faults: tuple[str, ...]


def main(
    data_dir: Path, seconds: float | None, limit: int | None
) -> tuple[list[dict[str, Any]], str]:
    """Return (rows, a table in text) for every file of ``data_dir``."""
    rows = list(bench_cutting(data_dir, seconds or SECONDS, limit))
    return [asdict(row) for row in rows], table(rows)


def bench_cutting(data_dir: Path, seconds: float, limit: int | None) -> Iterator[Row]:
    """Yield a row per instance, at most ``limit`` from each file, spread over the file."""
    _warm_up()
    for path in sorted(data_dir.glob("*.json")):
        for document in _spread(_instances(path), limit):
            yield measure(path.stem, document, seconds)


def _instances(path: Path) -> list[dict[str, Any]]:
    document = json.loads(path.read_text())
    if document.get("schema") == "cut-stock-set/1":
        return list(document["instances"])
    if document.get("schema") == "cut-stock/1":
        return [document]
    remedy = "Keep only cut-stock/1 and cut-stock-set/1 files there."
    raise InputError("unknown_schema", "/schema", f"{path.name} is no cutting file.", remedy)


def _spread(instances: list[dict[str, Any]], limit: int | None) -> list[dict[str, Any]]:
    if limit is None or limit >= len(instances):
        return instances
    return [instances[at * len(instances) // limit] for at in range(limit)]


def _warm_up() -> None:
    """Load the solver's libraries, so that the first instance does not pay for it."""
    tiny = {
        "schema": "cut-stock/1",
        "stock": [{"id": "bar", "length": 10, "cost": 1}],
        "items": [{"id": f"p{n}", "length": n, "demand": 7} for n in (3, 4, 5)],
    }
    solve(read_instance(tiny), seconds=1.0)


def measure(file: str, document: dict[str, Any], seconds: float) -> Row:
    """Solve one instance and return its row, faults named."""
    instance = read_instance(document)
    clock, processor = time.monotonic(), time.process_time()
    last = processor + seconds
    plan = solve(instance, seconds=PATIENCE * seconds, cancelled=lambda: time.process_time() > last)
    clock, processor = time.monotonic() - clock, time.process_time() - processor
    faults = [fault.code for fault in check_plan(document, plan_document(plan))]
    known = document.get("optimum")
    if known is not None and plan.bound > known:
        faults.append("bound_above_known_optimum")
    problem = reduce_instance(instance).problem
    costs = {fit: problem.cost(best_rule(problem, (fit,))[0]) for fit in ("first", "best")}
    return Row(
        file,
        str(document.get("name", "")),
        instance.pieces,
        plan.cost,
        plan.bound,
        plan.is_proven,
        known,
        costs["first"],
        costs["best"],
        round(clock, 3),
        round(processor, 3),
        tuple(faults),
    )


def table(rows: list[Row]) -> str:
    """Return the summary per file: proven, gaps to the best known cost, times."""
    head = (
        f"{'file':<20}{'plans':>6}{'proven':>8}{'gap %':>8}{'FFD %':>8}{'BFD %':>8}"
        f"{'median s':>10}{'90th s':>8}{'worst s':>9}{'by clock':>10}{'faults':>8}"
    )
    lines = [head]
    for file in dict.fromkeys(row.file for row in rows):
        lines.append(_line(file, [row for row in rows if row.file == file]))
    lines += [
        f"fault: {row.file} {row.name}: {', '.join(row.faults)}" for row in rows if row.faults
    ]
    lines += [_open_line(row) for row in rows if not row.proven]
    return "\n".join(lines) + "\n"


def _line(file: str, rows: list[Row]) -> str:
    times = sorted(row.cpu_seconds for row in rows)
    clock = max(row.seconds for row in rows)
    gaps = [100 * (cost / _best_known(row) - 1) for row in rows for cost in [row.cost]]
    first = [100 * (row.first_fit / _best_known(row) - 1) for row in rows]
    best = [100 * (row.best_fit / _best_known(row) - 1) for row in rows]
    count = len(rows)
    return (
        f"{file:<20}{count:>6}{sum(row.proven for row in rows):>8}"
        f"{sum(gaps) / count:>8.3f}{sum(first) / count:>8.2f}{sum(best) / count:>8.2f}"
        f"{times[count // 2]:>10.2f}{times[min(count - 1, int(count * 0.9))]:>8.2f}"
        f"{times[-1]:>9.2f}{clock:>10.2f}{sum(bool(row.faults) for row in rows):>8}"
    )


def _best_known(row: Row) -> int:
    """The known optimum, or the least cost that is possible by our own bound."""
    return max(1, row.known if row.known is not None else row.bound)


def _open_line(row: Row) -> str:
    return f"open: {row.file} {row.name}: cost {row.cost}, bound {row.bound}, known {row.known}"
