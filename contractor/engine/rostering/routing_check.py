"""Checks a route-plan/1 document against its svc-vrp/1 document, from the raw text only.

Shares no code with the adapter: fractions instead of scaled integers, distances one by one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any, TypeGuard


@dataclass(frozen=True)
class Violation:
    code: str
    text: str


def check_routes(instance: dict[str, Any], plan: object) -> list[Violation]:
    """Return everything that is wrong with ``plan``; an empty list means nothing is.

    Codes: plan_malformed, vehicle_unknown, vehicle_overused, route_empty, node_unknown,
    node_is_depot, node_twice, node_missing, node_not_allowed, capacity_exceeded, late_arrival,
    late_return, duration_exceeded, cost_wrong, feasible_wrong.
    """
    if not _is_plan(plan):
        return [Violation("plan_malformed", "routes, vehicle, cost or feasible are not as agreed")]
    checker = _Checker(instance)
    pairs = list(zip(plan["routes"], plan["vehicle"], strict=True))
    found = checker.vehicles(plan["vehicle"])
    found += checker.visits(plan["routes"])
    if any(one.code in ("vehicle_unknown", "node_unknown", "node_is_depot") for one in found):
        return found
    total = Fraction(0)
    for route, vehicle in pairs:
        total += checker.length(route, instance["fleet"][vehicle])
        found += checker.route(route, vehicle)
    is_feasible = not found
    if Fraction(str(plan["cost"])) != total:
        found.append(Violation("cost_wrong", f"cost {plan['cost']} but the legs add to {total}"))
    if plan["feasible"] is not is_feasible:
        found.append(Violation("feasible_wrong", f"feasible is said to be {plan['feasible']}"))
    return found


def _is_plan(plan: object) -> TypeGuard[dict[str, Any]]:
    if not isinstance(plan, dict):
        return False
    routes, vehicle, cost = plan.get("routes"), plan.get("vehicle"), plan.get("cost")
    return (
        plan.get("schema") == "route-plan/1"
        and isinstance(routes, list)
        and all(isinstance(route, list) and all(map(_is_whole, route)) for route in routes)
        and isinstance(vehicle, list)
        and all(map(_is_whole, vehicle))
        and len(vehicle) == len(routes)
        and isinstance(cost, int | float)
        and math.isfinite(cost)
        and isinstance(plan.get("feasible"), bool)
    )


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _exact(value: float) -> Fraction:
    return Fraction(str(value))


class _Checker:
    def __init__(self, instance: dict[str, Any]) -> None:
        self.nodes: list[list[float]] = instance["nodes"]
        self.fleet: list[dict[str, Any]] = instance["fleet"]
        self.metric: str = instance["metric"]
        ends = [(fleet["start"], fleet["end"]) for fleet in self.fleet]
        self.depots = {0, *(node for pair in ends for node in pair)}

    def distance(self, a: int, b: int) -> Fraction:
        """Truncated to 0.1 (dimacs) or rounded half up to 0.001 (exact)."""
        (xa, ya), (xb, yb) = self.nodes[a][:2], self.nodes[b][:2]
        square = (_exact(xa) - _exact(xb)) ** 2 + (_exact(ya) - _exact(yb)) ** 2
        if self.metric == "dimacs":
            return Fraction(_floor_root(square * 100), 10)
        return Fraction((_floor_root(square * 4_000_000) + 1) // 2, 1000)

    def vehicles(self, vehicle: Sequence[int]) -> list[Violation]:
        found = []
        for number in sorted(set(vehicle)):
            if not 0 <= number < len(self.fleet):
                found.append(Violation("vehicle_unknown", f"there is no vehicle {number}"))
            elif vehicle.count(number) > self.fleet[number]["count"]:
                text = f"vehicle {number} drives {vehicle.count(number)} routes"
                found.append(Violation("vehicle_overused", text))
        return found

    def visits(self, routes: Sequence[Sequence[int]]) -> list[Violation]:
        found = [
            Violation("route_empty", f"route {number} has no stop")
            for number, route in enumerate(routes)
            if not route
        ]
        seen: dict[int, int] = {}
        for node in (node for route in routes for node in route):
            seen[node] = seen.get(node, 0) + 1
        for node, times in sorted(seen.items()):
            if not 0 <= node < len(self.nodes):
                found.append(Violation("node_unknown", f"there is no node {node}"))
            elif node in self.depots:
                found.append(Violation("node_is_depot", f"node {node} is a depot"))
            elif times > 1:
                found.append(Violation("node_twice", f"node {node} is served {times} times"))
        for node in range(len(self.nodes)):
            if node not in seen and node not in self.depots:
                found.append(Violation("node_missing", f"node {node} is not served"))
        return found

    def legs(self, route: Sequence[int], fleet: dict[str, Any]) -> list[tuple[int, int]]:
        stops = [fleet["start"], *route, fleet["end"]]
        return list(pairwise(stops))

    def length(self, route: Sequence[int], fleet: dict[str, Any]) -> Fraction:
        legs = self.legs(route, fleet)
        return sum((self.distance(a, b) for a, b in legs), Fraction(0))

    def route(self, route: Sequence[int], vehicle: int) -> list[Violation]:
        fleet = self.fleet[vehicle]
        found = []
        allowed = fleet.get("allowed")
        for node in route:
            if allowed is not None and node not in allowed:
                text = f"vehicle {vehicle} may not serve node {node}"
                found.append(Violation("node_not_allowed", text))
        load = sum(self.nodes[node][2] for node in route)
        if load > fleet["capacity"]:
            text = f"vehicle {vehicle} carries {load} of {fleet['capacity']}"
            found.append(Violation("capacity_exceeded", text))
        return found + self._times(route, vehicle)

    def _times(self, route: Sequence[int], vehicle: int) -> list[Violation]:
        fleet = self.fleet[vehicle]
        earliest = _exact(self.nodes[fleet["start"]][3])
        late = self._late(route, fleet, earliest)
        if late is not None:
            code = "late_return" if late == len(route) else "late_arrival"
            where = "the depot" if late == len(route) else f"node {route[late]}"
            return [Violation(code, f"vehicle {vehicle} is late at {where}")]
        limit = fleet.get("max_duration")
        if limit is None:
            return []
        # Leaving later only ever shortens the waiting, so the last moment that keeps every
        # window gives the shortest duration.
        leave = self._latest_start(route, fleet)
        duration = self._finish(route, fleet, leave) - leave
        if duration <= _exact(limit):
            return []
        text = f"vehicle {vehicle} is out for {float(duration):g} of {limit:g}"
        return [Violation("duration_exceeded", text)]

    def _late(self, route: Sequence[int], fleet: dict[str, Any], leave: Fraction) -> int | None:
        """Return the position of the first stop reached after its due time."""
        now = leave
        for position, (a, b) in enumerate(self.legs(route, fleet)):
            now += self.distance(a, b)
            if now > _exact(self.nodes[b][4]):
                return position
            now = max(now, _exact(self.nodes[b][3])) + _exact(self.nodes[b][5])
        return None

    def _finish(self, route: Sequence[int], fleet: dict[str, Any], leave: Fraction) -> Fraction:
        now = leave
        for a, b in self.legs(route, fleet):
            now += self.distance(a, b)
            now = max(now, _exact(self.nodes[b][3])) + _exact(self.nodes[b][5])
        return now

    def _latest_start(self, route: Sequence[int], fleet: dict[str, Any]) -> Fraction:
        latest = _exact(self.nodes[fleet["end"]][4])
        for a, b in reversed(self.legs(route, fleet)):
            latest = min(latest, _exact(self.nodes[b][4])) - self.distance(a, b)
            latest -= _exact(self.nodes[a][5])
        return min(latest, _exact(self.nodes[fleet["start"]][4]))


def _floor_root(square: Fraction) -> int:
    """Return floor(sqrt(square)) exactly."""
    return math.isqrt(square.numerator // square.denominator)
