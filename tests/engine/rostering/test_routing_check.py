"""Planted faults: each code of the route checker is raised by a plan that breaks its rule."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from contractor.engine.rostering.routing_check import check_routes

# Legs of whole length, so that the plan below can be checked by hand:
# 0-1 30, 1-2 40, 2-0 50 (3-4-5 triangle); 0-3 10, 3-4 10, 4-0 20 on a line.
INSTANCE: dict[str, Any] = {
    "schema": "svc-vrp/1",
    "metric": "dimacs",
    "nodes": [
        [0, 0, 0, 0, 500, 0],
        [30, 0, 4, 0, 60, 10],
        [30, 40, 4, 100, 150, 10],
        [0, -10, 5, 0, 500, 5],
        [0, -20, 5, 0, 500, 5],
    ],
    "fleet": [
        {"count": 1, "capacity": 8, "start": 0, "end": 0, "max_duration": 150, "allowed": [1, 2]},
        {"count": 2, "capacity": 12, "start": 0, "end": 0},
    ],
}
PLAN: dict[str, Any] = {
    "schema": "route-plan/1",
    "routes": [[1, 2], [3, 4]],
    "vehicle": [0, 1],
    "cost": 160,
    "feasible": True,
}


def test_the_plan_made_by_hand_is_right() -> None:
    """Out at 20: 50-60 at node 1, 100-110 at node 2, back at 160: 140 of 150."""
    assert check_routes(INSTANCE, PLAN) == []


def edit(**changes: Any) -> Callable[[dict[str, Any], dict[str, Any]], None]:
    return lambda _instance, plan: plan.update(changes)


def node(number: int, place: int, value: float) -> Callable[[Any, Any], None]:
    def change(instance: dict[str, Any], _plan: dict[str, Any]) -> None:
        instance["nodes"][number][place] = value

    return change


def vehicle(number: int, **changes: Any) -> Callable[[Any, Any], None]:
    return lambda instance, _plan: instance["fleet"][number].update(changes)


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        (edit(schema="route-plan/2"), "plan_malformed"),
        (edit(vehicle=[0]), "plan_malformed"),
        (edit(routes=[[1, "2"], [3, 4]]), "plan_malformed"),
        (edit(cost=float("nan")), "plan_malformed"),
        (edit(vehicle=[0, 7]), "vehicle_unknown"),
        (edit(vehicle=[0, -1]), "vehicle_unknown"),
        (edit(routes=[[1], [2], [3, 4]], vehicle=[0, 0, 1]), "vehicle_overused"),
        (edit(routes=[[1, 2], [3, 4], []], vehicle=[0, 1, 1]), "route_empty"),
        (edit(routes=[[1, 2], [3, 4, 9]]), "node_unknown"),
        (edit(routes=[[1, 2], [3, 0, 4]]), "node_is_depot"),
        (edit(routes=[[1, 2], [3, 4, 3]]), "node_twice"),
        (edit(routes=[[1, 2], [3]]), "node_missing"),
        (edit(routes=[[1, 2, 3], [4]]), "node_not_allowed"),
        (vehicle(1, capacity=9), "capacity_exceeded"),
        (node(1, 4, 29), "late_arrival"),
        (node(2, 4, 79), "late_arrival"),
        (vehicle(0, max_duration=139), "duration_exceeded"),
        (edit(cost=160.1), "cost_wrong"),
        (edit(feasible=False), "feasible_wrong"),
    ],
)
def test_each_planted_fault_has_its_code(fault: Callable[[Any, Any], None], code: str) -> None:
    instance, plan = copy.deepcopy(INSTANCE), copy.deepcopy(PLAN)
    fault(instance, plan)
    assert code in {one.code for one in check_routes(instance, plan)}


def test_a_late_return_is_told_from_a_late_arrival() -> None:
    instance = copy.deepcopy(INSTANCE)
    instance["nodes"][0][4] = 159
    codes = [one.code for one in check_routes(instance, PLAN)]
    assert codes == ["late_return", "feasible_wrong"]


def test_the_duration_is_the_shortest_of_all_departures() -> None:
    """Leaving at 0 would take 160; leaving at 20 takes 140."""
    instance = copy.deepcopy(INSTANCE)
    instance["fleet"][0]["max_duration"] = 140
    assert check_routes(instance, PLAN) == []


@pytest.mark.parametrize("plan", [None, [], "x", {}, {"schema": "route-plan/1"}])
def test_no_plan_at_all(plan: object) -> None:
    assert [one.code for one in check_routes(INSTANCE, plan)] == ["plan_malformed"]
