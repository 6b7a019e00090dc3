"""Routes for a fleet: PyVRP on whole numbers, and the route-plan/1 document of its answer."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from contractor.engine.rostering.routing_instance import RouteInstance
from contractor.engine.rostering.routing_model import (
    VehicleGroup,
    build_problem,
    distance_matrix,
    vehicle_groups,
)
from contractor.engine.rostering.routing_search import SearchSettings, engine_name, run_search

PLAN_SCHEMA = "route-plan/1"


@dataclass(frozen=True)
class RoutePlan:
    """Node numbers per route, the fleet index of each; ``cost`` in steps of the metric."""

    routes: tuple[tuple[int, ...], ...]
    vehicle: tuple[int, ...]
    cost: int
    scale: int
    is_feasible: bool
    iterations: int
    seconds: float
    seed: int
    engine: str

    @property
    def cost_value(self) -> float:
        """The cost in the instance's own unit, as best-known values are given."""
        return self.cost / self.scale


def solve_routes(
    instance: RouteInstance,
    *,
    seconds: float | None = None,
    iterations: int | None = None,
    seed: int = 1,
    settings: SearchSettings | None = None,
) -> RoutePlan:
    """Return the best plan found within ``seconds`` or ``iterations``, whichever ends first.

    With ``iterations`` alone the answer is the same every time. A plan that is not feasible is
    the least bad one found and says so. InputError without any limit.
    """
    result = run_search(
        build_problem(instance), seconds=seconds, iterations=iterations, seed=seed,
        settings=settings,
    )  # fmt: skip
    return _plan(instance, result, seed)


def _plan(instance: RouteInstance, result: Any, seed: int) -> RoutePlan:
    clients = instance.clients
    left = [_vehicles(group, instance) for group in vehicle_groups(instance)]
    pairs = []
    for route in result.best.routes():
        nodes = tuple(clients[stop.idx] for stop in route if stop.is_client())
        pairs.append((left[route.vehicle_type()].pop(0), nodes))
    pairs.sort()
    return RoutePlan(
        routes=tuple(nodes for _, nodes in pairs),
        vehicle=tuple(vehicle for vehicle, _ in pairs),
        cost=_cost(instance, result, pairs),
        scale=instance.scale,
        is_feasible=bool(result.best.is_feasible()),
        iterations=int(result.num_iterations),
        seconds=float(result.runtime),
        seed=seed,
        engine=engine_name(),
    )


def _cost(instance: RouteInstance, result: Any, pairs: list[tuple[int, tuple[int, ...]]]) -> int:
    if result.best.is_feasible():
        return int(result.best.distance())
    # An infeasible plan may use forbidden legs, whose length in the solver is a penalty.
    matrix = distance_matrix(instance)
    ends = [(instance.fleets[vehicle], nodes) for vehicle, nodes in pairs]
    stops = [(fleet.start, *nodes, fleet.end) for fleet, nodes in ends]
    return sum(int(matrix[a, b]) for route in stops for a, b in pairwise(route))


def _vehicles(group: VehicleGroup, instance: RouteInstance) -> list[int]:
    """Return the fleet index of each vehicle of ``group``."""
    return [number for number in group.members for _ in range(instance.fleets[number].count)]


def plan_document(plan: RoutePlan) -> dict[str, object]:
    """Return ``plan`` as a route-plan/1 document."""
    return {
        "schema": PLAN_SCHEMA,
        "routes": [list(route) for route in plan.routes],
        "vehicle": list(plan.vehicle),
        "cost": plan.cost_value,
        "feasible": plan.is_feasible,
        "seconds": round(plan.seconds, 3),
        "seed": plan.seed,
        "engine": plan.engine,
        "iterations": plan.iterations,
    }
