"""Routes: the adapter against PyVRP called directly and against enumeration of small cases."""

from __future__ import annotations

import json
import math
import random
from fractions import Fraction
from itertools import pairwise, permutations
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.rostering.routing import plan_document, solve_routes
from contractor.engine.rostering.routing_bench import direct_cost, direct_problem
from contractor.engine.rostering.routing_check import check_routes
from contractor.engine.rostering.routing_instance import read_instance
from contractor.engine.rostering.routing_model import (
    build_problem,
    distance_matrix,
    vehicle_groups,
)
from contractor.engine.rostering.routing_search import (
    SearchSettings,
    near_leg,
    run_search,
    search_params,
)

HORIZON = 400


def made_up(seed: int, size: int, *, metric: str = "dimacs", mixed: bool = False) -> dict[str, Any]:
    """Return an instance that a single stop per vehicle could serve; skills where ``mixed``."""
    draw = random.Random(seed)
    nodes: list[list[float]] = [[50, 50, 0, 0, HORIZON, 0]]
    for _ in range(size):
        x, y = draw.randint(0, 100), draw.randint(0, 100)
        ready = draw.randint(0, HORIZON // 2)
        far = math.ceil(math.dist((x, y), (50, 50)))
        due = min(max(ready, far) + draw.randint(20, 150), HORIZON - far - 10)
        nodes.append([x, y, draw.randint(1, 9), min(ready, due), due, 10])
    fleet: list[dict[str, Any]] = [{"count": size, "capacity": 30, "start": 0, "end": 0}]
    if mixed:
        even, odd = list(range(2, size + 1, 2)), list(range(1, size + 1, 2))
        fleet = [
            {"count": 1, "capacity": 30, "start": 0, "end": 0, "max_duration": 300, "allowed": part}
            for part in (even, odd)
            for _ in range(size)
        ]
    return {
        "schema": "svc-vrp/1", "name": f"made up {seed}", "metric": metric,
        "nodes": nodes, "fleet": fleet,
    }  # fmt: skip


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("metric", ["dimacs", "exact"])
@pytest.mark.parametrize("mixed", [False, True])
def test_the_adapter_and_pyvrp_alone_find_the_same(seed: int, metric: str, mixed: bool) -> None:
    """PyVRP 0.14.1 on data built straight from the document: difference 0, checked plan."""
    document = made_up(seed, 30, metric=metric, mixed=mixed)
    plan = solve_routes(read_instance(document), iterations=150, seed=seed)
    assert plan.cost - direct_cost(document, 150, seed) == 0
    assert plan.is_feasible
    assert check_routes(document, plan_document(plan)) == []


@pytest.mark.parametrize("mixed", [False, True])
def test_the_objective_is_that_of_pyvrp_to_the_last_digit(mixed: bool) -> None:
    document = made_up(5, 25, metric="exact", mixed=mixed)
    instance = read_instance(document)
    result = run_search(build_problem(instance), seconds=None, iterations=100, seed=3)
    plan = solve_routes(instance, iterations=100, seed=3)
    assert plan.cost == result.best.distance() == result.cost()
    assert plan_document(plan)["cost"] == plan.cost / 1000


def test_the_problem_data_is_the_same_as_that_of_pyvrp_alone() -> None:
    document = made_up(3, 20, mixed=True)
    ours, theirs = build_problem(read_instance(document)), direct_problem(document)
    for profile in range(2):
        assert (ours.distance_matrix(profile) == theirs.distance_matrix(profile)).all()
        assert (ours.duration_matrix(profile) == theirs.duration_matrix(profile)).all()
    assert ours.num_vehicle_types == theirs.num_vehicle_types == 2
    for one, other in zip(ours.clients(), theirs.clients(), strict=True):
        assert (one.delivery, one.service_duration) == (other.delivery, other.service_duration)
        assert (one.tw_early, one.tw_late) == (other.tw_early, other.tw_late)


def best_by_enumeration(document: dict[str, Any]) -> Fraction:
    """Return the least total length over every set of routes of equal vehicles.

    Best split of each order of all places: each prefix may be the end of a route.
    """
    size = len(document["nodes"])
    feasible: dict[tuple[int, ...], Fraction] = {}
    for count in range(1, size):
        for route in permutations(range(1, size), count):
            cost = route_length(document, route)
            if cost is not None:
                key = tuple(sorted(route))
                feasible[key] = min(cost, feasible.get(key, cost))
    best: dict[tuple[int, ...], Fraction] = {(): Fraction(0)}
    for members in sorted((m for m in subsets(size)), key=len):
        if not members:
            continue
        first = members[0]
        options = [
            cost + best[tuple(n for n in members if n not in group)]
            for group, cost in feasible.items()
            if first in group and set(group) <= set(members)
        ]
        best[members] = min(options)
    return best[tuple(range(1, size))]


def subsets(size: int) -> list[tuple[int, ...]]:
    return [tuple(n for n in range(1, size) if mask >> n & 1) for mask in range(0, 1 << size, 2)]


def route_length(document: dict[str, Any], route: tuple[int, ...]) -> Fraction | None:
    nodes, vehicle = document["nodes"], document["fleet"][0]
    if sum(nodes[n][2] for n in route) > vehicle["capacity"]:
        return None
    now = total = Fraction(0)
    for a, b in pairwise((0, *route, 0)):
        leg = Fraction(math.floor(10 * math.dist(nodes[a][:2], nodes[b][:2]) + 1e-9), 10)
        total += leg
        now += leg
        if now > nodes[b][4]:
            return None
        now = max(now, Fraction(nodes[b][3])) + nodes[b][5]
    return total


@pytest.mark.parametrize("seed", range(4))
def test_small_instances_reach_the_enumerated_optimum(seed: int) -> None:
    document = made_up(100 + seed, 6)
    plan = solve_routes(read_instance(document), iterations=300, seed=1)
    assert Fraction(plan.cost, 10) == best_by_enumeration(document)


def test_the_same_seed_gives_the_same_bytes() -> None:
    document = made_up(7, 25)
    instance = read_instance(document)
    plans = [plan_document(solve_routes(instance, iterations=80, seed=9)) for _ in range(2)]
    for plan in plans:
        plan.pop("seconds")
    assert json.dumps(plans[0]) == json.dumps(plans[1])


def test_vehicles_start_and_end_where_the_document_says() -> None:
    document = made_up(11, 8)
    document["nodes"] += [[0, 0, 0, 0, HORIZON, 0], [100, 100, 0, 50, HORIZON, 0]]
    document["fleet"] = [
        {"count": 4, "capacity": 30, "start": 9, "end": 10},
        {"count": 4, "capacity": 30, "start": 0, "end": 0, "max_duration": 200},
    ]
    instance = read_instance(document)
    data = build_problem(instance)
    ends = [
        (data.depot(kind.start_depot).location, data.depot(kind.end_depot).location)
        for kind in data.vehicle_types()
    ]
    assert ends == [(9, 10), (0, 0)]
    plan = solve_routes(instance, iterations=200, seed=1)
    assert check_routes(document, plan_document(plan)) == []
    assert 9 not in [node for route in plan.routes for node in route]


def test_equal_vehicles_are_one_type_and_come_back_one_by_one() -> None:
    document = made_up(13, 12, mixed=True)
    instance = read_instance(document)
    groups = vehicle_groups(instance)
    assert [group.count for group in groups] == [12, 12]
    plan = solve_routes(instance, iterations=100, seed=1)
    assert len(set(plan.vehicle)) == len(plan.vehicle)
    assert check_routes(document, plan_document(plan)) == []


def test_an_instance_without_an_answer_says_so() -> None:
    document = made_up(17, 6)
    document["fleet"] = [{"count": 1, "capacity": 10, "start": 0, "end": 0}]
    plan = solve_routes(read_instance(document), iterations=50, seed=1)
    assert not plan.is_feasible
    codes = {one.code for one in check_routes(document, plan_document(plan))}
    assert codes & {"capacity_exceeded", "late_arrival", "late_return", "node_missing"}
    assert not codes & {"cost_wrong", "feasible_wrong"}


@given(
    st.lists(st.tuples(*[st.decimals(-200, 200, places=3)] * 2), min_size=2, max_size=6),
    st.sampled_from(["dimacs", "exact"]),
)
@settings(max_examples=60, deadline=None)
def test_distances_are_exact(points: list[tuple[Any, Any]], metric: str) -> None:
    """Against whole-number square roots; also where a float lies on the edge of a step."""
    rows = [[float(x), float(y), 0, 0, 9, 0] for x, y in points]
    rows[1:] = [[*row[:2], 1, 0, 9, 0] for row in rows[1:]]
    document = {
        "schema": "svc-vrp/1", "metric": metric, "nodes": rows,
        "fleet": [{"count": 1, "capacity": 9, "start": 0, "end": 0}],
    }  # fmt: skip
    matrix = distance_matrix(read_instance(document))
    for a, (xa, ya) in enumerate(points):
        for b, (xb, yb) in enumerate(points):
            square = (Fraction(xa) - Fraction(xb)) ** 2 + (Fraction(ya) - Fraction(yb)) ** 2
            steps = int(matrix[a, b])
            if metric == "dimacs":
                assert Fraction(steps, 10) ** 2 <= square < Fraction(steps + 1, 10) ** 2
            else:
                low, high = Fraction(2 * steps - 1, 2000), Fraction(2 * steps + 1, 2000)
                assert (steps == 0 or low**2 <= square) and square < high**2


def test_distances_on_the_edge_of_a_step_are_kept() -> None:
    """3-4-5 triangles times 0.1: a float square root may fall just below the whole number."""
    nodes: list[list[float]] = [[0, 0, 0, 0, 9, 0]]
    nodes += [[round(0.3 * n, 1), round(0.4 * n, 1), 1, 0, 9, 0] for n in range(1, 60)]
    document = {
        "schema": "svc-vrp/1", "metric": "dimacs", "nodes": nodes,
        "fleet": [{"count": 1, "capacity": 99, "start": 0, "end": 0}],
    }  # fmt: skip
    matrix = distance_matrix(read_instance(document))
    assert np.array_equal(matrix[0], np.arange(60) * 5)


def test_a_distance_just_below_a_step_is_not_rounded_up_to_it() -> None:
    """Floats say 915405.0; the square is below 915405 squared, so it truncates to 915404.9."""
    x, y = Fraction("813619.222899"), Fraction("419511.709198")
    assert x**2 + y**2 < 915405**2
    document = {
        "schema": "svc-vrp/1", "metric": "dimacs",
        "nodes": [[0, 0, 0, 0, 9, 0], [float(x), float(y), 1, 0, 9, 0]],
        "fleet": [{"count": 1, "capacity": 1, "start": 0, "end": 0}],
    }  # fmt: skip
    assert int(distance_matrix(read_instance(document))[0, 1]) == 9154049


def changed(path: list[Any], value: Any) -> dict[str, Any]:
    document = made_up(19, 4)
    target: Any = document
    for step in path[:-1]:
        target = target[step]
    if value is KeyError:
        del target[path[-1]]
    else:
        target[path[-1]] = value
    return document


@pytest.mark.parametrize(
    ("path", "value", "code", "pointer"),
    [
        (["schema"], "other/1", "unknown_word", "/schema"),
        (["metric"], "miles", "unknown_word", "/metric"),
        (["nodes"], KeyError, "missing_field", "/nodes"),
        (["nodes"], [[0, 0, 0, 0, 9, 0]], "number_out_of_range", "/nodes"),
        (["nodes", 2], [1, 2, 3], "not_a_node", "/nodes/2"),
        (["nodes", 2, 0], "a", "not_a_number", "/nodes/2/0"),
        (["nodes", 2, 0], float("nan"), "number_out_of_range", "/nodes/2/0"),
        (["nodes", 2, 0], 2e6, "number_out_of_range", "/nodes/2/0"),
        (["nodes", 2, 0], 1e-7, "number_too_fine", "/nodes/2/0"),
        (["nodes", 2, 2], -1, "number_out_of_range", "/nodes/2/2"),
        (["nodes", 2, 2], 1.5, "not_whole", "/nodes/2/2"),
        (["nodes", 2, 5], 0.05, "number_too_fine", "/nodes/2/5"),
        (["nodes", 2, 4], 0, "window_empty", "/nodes/2/4"),
        (["nodes", 2, 2], 31, "node_unservable", "/nodes/2"),
        (["nodes", 0, 5], 5, "depot_with_work", "/nodes/0"),
        (["fleet"], [], "empty_list", "/fleet"),
        (["fleet", 0, "count"], 0, "number_out_of_range", "/fleet/0/count"),
        (["fleet", 0, "end"], 99, "number_out_of_range", "/fleet/0/end"),
        (["fleet", 0, "allowed"], [1, 2], "node_unservable", "/nodes/3"),
        (["fleet", 0, "allowed"], [99], "number_out_of_range", "/fleet/0/allowed/0"),
        (["bks"], {"cost": 0}, "number_out_of_range", "/bks/cost"),
    ],
)
def test_bad_instances_are_refused(path: list[Any], value: Any, code: str, pointer: str) -> None:
    document = changed(path, value)
    if path[-1] == 4:
        document["nodes"][2][3] = 10
    with pytest.raises(InputError) as refused:
        read_instance(document)
    assert (refused.value.code, refused.value.pointer) == (code, pointer)


def test_penalties_start_on_the_scale_of_the_instance() -> None:
    """Four places in a row, 10 apart, a demand of 3 each."""
    nodes = [[0, 0, 0, 0, 999, 0], *([10 * n, 0, 3, 0, 999, 0] for n in (1, 2, 3))]
    fleet = [{"count": 1, "capacity": 9, "start": 0, "end": 0}]
    document = {"schema": "svc-vrp/1", "metric": "dimacs", "nodes": nodes, "fleet": fleet}
    data = build_problem(read_instance(document))
    # Sums of the rows in steps: 600, 400, 400, 600 over 12 legs.
    assert near_leg(data) == pytest.approx(2000 / 12)
    penalty = search_params(SearchSettings(start_penalty=6)).penalty
    assert penalty.midpoint_penalties(data) == ([pytest.approx(6 * 2000 / 12 / 3)], 6, 6)


def test_a_search_needs_an_end() -> None:
    instance = read_instance(made_up(1, 3))
    with pytest.raises(InputError, match="needs an end"):
        solve_routes(instance)
    with pytest.raises(InputError, match="no limit"):
        solve_routes(instance, seconds=-1)
