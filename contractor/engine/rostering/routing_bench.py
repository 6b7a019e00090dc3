"""Routing on instances with best-known values, and beside PyVRP called without the adapter."""

from __future__ import annotations

import json
import statistics
from pathlib import Path
from typing import Any

from contractor.engine.rostering.routing import plan_document, solve_routes
from contractor.engine.rostering.routing_check import check_routes
from contractor.engine.rostering.routing_instance import read_instance
from contractor.engine.rostering.routing_search import SearchSettings, search_params

DEFAULT_SECONDS = 10.0
COMPARED_ITERATIONS = 300
SEED = 1


def direct_problem(document: dict[str, Any]) -> Any:
    """Return PyVRP's problem data straight from the document, as its own reader rounds.

    Written apart from ``routing_model``: floats, numpy rounding, one depot at node 0.
    """
    import numpy as np
    import pyvrp

    scale = {"dimacs": 10, "exact": 1000}[document["metric"]]
    nodes = np.array(document["nodes"], dtype=float)
    gaps = nodes[:, None, :2] - nodes[None, :, :2]
    length = scale * np.sqrt((gaps**2).sum(axis=-1))
    matrix = (length if scale == 10 else np.round(length)).astype(np.int64)
    times = np.round(scale * nodes[:, 3:]).astype(np.int64)
    barred = int(matrix.max() + (times[:, 1] + times[:, 2]).max() + 1)
    types: dict[str, tuple[dict[str, Any], list[int]]] = {}
    for number, vehicle in enumerate(document["fleet"]):
        alike = json.dumps({**vehicle, "count": 0}, sort_keys=True)
        types.setdefault(alike, (vehicle, []))[1].append(number)
    matrices: dict[str, Any] = {}
    vehicle_types = []
    for vehicle, members in types.values():
        name = json.dumps(vehicle.get("allowed"))
        if name not in matrices:
            matrices[name] = _allowed_only(matrix, vehicle.get("allowed"), barred)
        limit = vehicle.get("max_duration")
        vehicle_types.append(
            pyvrp.VehicleType(
                sum(document["fleet"][member]["count"] for member in members),
                [vehicle["capacity"]],
                profile=list(matrices).index(name),
                **({} if limit is None else {"shift_duration": round(scale * limit)}),
            )
        )
    clients = [
        pyvrp.Client(number, [int(nodes[number, 2])], [], int(service), int(ready), int(due))
        for number, (ready, due, service) in enumerate(times.tolist())
        if number
    ]
    return pyvrp.ProblemData(
        [pyvrp.Location(x, y) for x, y in nodes[:, :2].tolist()],
        clients,
        [pyvrp.Depot(0, int(times[0, 0]), int(times[0, 1]))],
        vehicle_types,
        list(matrices.values()),
        list(matrices.values()),
    )


def _allowed_only(matrix: Any, allowed: list[int] | None, barred: int) -> Any:
    if allowed is None:
        return matrix
    copy = matrix.copy()
    for number in range(1, len(copy)):
        if number not in allowed:
            copy[number, :] = copy[:, number] = barred
            copy[number, number] = 0
    return copy


def direct_cost(document: dict[str, Any], iterations: int, seed: int) -> int:
    """Return what PyVRP finds without the adapter, in steps of the metric."""
    import pyvrp
    from pyvrp.stop import MaxIterations

    result = pyvrp.solve(
        direct_problem(document),
        MaxIterations(iterations),
        seed=seed,
        collect_stats=False,
        params=search_params(SearchSettings()),
    )
    return int(result.best.distance())


def measure(document: dict[str, Any], seconds: float, iterations: int) -> dict[str, Any]:
    """Return one row: gap to the best known, violations, and the difference to PyVRP alone."""
    instance = read_instance(document)
    plan = solve_routes(instance, seconds=seconds, seed=SEED)
    short = solve_routes(instance, iterations=iterations, seed=SEED)
    best = instance.best_known
    return {
        "instance": instance.name,
        "nodes": len(instance.nodes) - 1,
        "cost": plan.cost_value,
        "best_known": best,
        "gap": None if best is None else plan.cost_value / best - 1,
        "feasible": plan.is_feasible,
        "violations": len(check_routes(document, plan_document(plan))),
        "iterations": plan.iterations,
        "seconds": plan.seconds,
        "adapter_minus_direct": short.cost - direct_cost(document, iterations, SEED),
    }


def main(
    data_dir: Path, seconds: float | None = None, limit: int | None = None
) -> tuple[list[dict[str, Any]], str]:
    """Measure the ``vrp_*.json`` files of ``data_dir``; return the rows and a table."""
    seconds = DEFAULT_SECONDS if seconds is None else seconds
    files = sorted(data_dir.glob("vrp_*.json"))[:limit]
    rows = [measure(json.loads(file.read_text()), seconds, COMPARED_ITERATIONS) for file in files]
    return rows, table(rows, seconds)


def table(rows: list[dict[str, Any]], seconds: float) -> str:
    head = f"{'instance':12}{'nodes':>6}{'cost':>12}{'best known':>12}{'gap':>8}{'iter':>8}"
    lines = [f"Routes, {seconds:g} s each, seed {SEED}", head + f"{'checked':>9}{'direct':>8}"]
    for row in rows:
        gap = "" if row["gap"] is None else f"{row['gap']:.2%}"
        best = "" if row["best_known"] is None else f"{row['best_known']:.1f}"
        state = "ok" if not row["violations"] and row["feasible"] else "WRONG"
        lines.append(
            f"{row['instance']:12}{row['nodes']:6}{row['cost']:12.1f}{best:>12}{gap:>8}"
            f"{row['iterations']:8}{state:>9}{row['adapter_minus_direct']:8}"
        )
    gaps = [row["gap"] for row in rows if row["gap"] is not None]
    if gaps:
        lines.append(f"mean gap {statistics.mean(gaps):.2%}, largest {max(gaps):.2%}")
    lines.append(
        f"direct: cost of the adapter minus cost of PyVRP called directly, same seed, "
        f"{COMPARED_ITERATIONS} iterations, in steps of the metric"
    )
    return "\n".join(lines) + "\n"
