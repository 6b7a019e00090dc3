"""A routing instance as PyVRP's problem data; nothing is lost and nothing added on the way.

PyVRP: Wouda, Lan, Kool, "PyVRP: a high-performance VRP solver package", INFORMS Journal on
Computing 36(4), 2024.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from contractor.engine.rostering.routing_instance import MICRO, Fleet, RouteInstance

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    type_matrix = NDArray[np.int64]


@dataclass(frozen=True)
class VehicleGroup:
    """Fleets that differ in nothing but their count: one vehicle type of the solver."""

    fleet: Fleet
    members: tuple[int, ...]
    count: int


def vehicle_groups(instance: RouteInstance) -> tuple[VehicleGroup, ...]:
    """Return the groups of identical fleets in order of their first member."""
    members: dict[tuple[Any, ...], list[int]] = {}
    for number, fleet in enumerate(instance.fleets):
        key = (fleet.capacity, fleet.start, fleet.end, fleet.max_duration, fleet.allowed)
        members.setdefault(key, []).append(number)
    return tuple(
        VehicleGroup(
            instance.fleets[numbers[0]],
            tuple(numbers),
            sum(instance.fleets[number].count for number in numbers),
        )
        for numbers in members.values()
    )


def distance_matrix(instance: RouteInstance) -> type_matrix:
    """Return all distances in steps of the metric, exact (no rounding of floats left over)."""
    import numpy as np

    points = np.array([(n.x_micro, n.y_micro) for n in instance.nodes], dtype=np.float64)
    offsets = points[:, None, :] - points[None, :, :]
    length = np.hypot(offsets[..., 0], offsets[..., 1]) / MICRO * instance.scale
    step = length if instance.metric == "dimacs" else length + 0.5
    matrix = np.floor(step).astype(np.int64)
    # Near a whole number the floats cannot decide: count those few with whole numbers.
    doubtful = np.argwhere(np.abs(step - np.round(step)) < 1e-6)
    for a, b in doubtful[doubtful[:, 0] < doubtful[:, 1]].tolist():
        matrix[a, b] = matrix[b, a] = _exact_distance(instance, a, b)
    np.fill_diagonal(matrix, 0)
    return matrix


def _exact_distance(instance: RouteInstance, a: int, b: int) -> int:
    p, q = instance.nodes[a], instance.nodes[b]
    square = (p.x_micro - q.x_micro) ** 2 + (p.y_micro - q.y_micro) ** 2
    if instance.metric == "dimacs":
        return math.isqrt(square * instance.scale**2 // MICRO**2)
    # round(d) = floor((floor(2 d) + 1) / 2)
    return (math.isqrt(4 * square * instance.scale**2 // MICRO**2) + 1) // 2


def forbidden_value(instance: RouteInstance, matrix: type_matrix) -> int:
    """Return a travel time that no window allows, so that a forbidden leg is infeasible."""
    return int(matrix.max()) + max(node.due + node.service for node in instance.nodes) + 1


def without_nodes(matrix: type_matrix, nodes: list[int], forbidden: int) -> type_matrix:
    """Return a copy of ``matrix`` in which ``nodes`` can be neither reached nor left."""
    import numpy as np

    copy = matrix.copy()
    copy[:, nodes] = forbidden
    copy[nodes, :] = forbidden
    np.fill_diagonal(copy, 0)
    return copy


def build_problem(instance: RouteInstance) -> Any:
    """Return the ``pyvrp.ProblemData`` of ``instance``; location i is node i."""
    import pyvrp

    depots, clients = instance.depots, instance.clients
    place_of = {node: number for number, node in enumerate(depots)}
    groups = vehicle_groups(instance)
    profiles = list(dict.fromkeys(group.fleet.allowed for group in groups))
    matrices = _matrices(instance, profiles)
    return pyvrp.ProblemData(
        [pyvrp.Location(node.x_micro, node.y_micro) for node in instance.nodes],
        [_client(instance, number) for number in clients],
        [
            pyvrp.Depot(node, tw_early=instance.nodes[node].ready, tw_late=instance.nodes[node].due)
            for node in depots
        ],
        [_vehicle_type(group, place_of, profiles) for group in groups],
        matrices,
        matrices,
    )


def _client(instance: RouteInstance, number: int) -> Any:
    import pyvrp

    node = instance.nodes[number]
    return pyvrp.Client(
        number,
        [node.demand],
        service_duration=node.service,
        tw_early=node.ready,
        tw_late=node.due,
        name=str(number),
    )


def _vehicle_type(
    group: VehicleGroup, place_of: dict[int, int], profiles: list[frozenset[int] | None]
) -> Any:
    import pyvrp

    fleet = group.fleet
    limit = {} if fleet.max_duration is None else {"shift_duration": fleet.max_duration}
    return pyvrp.VehicleType(
        group.count,
        [fleet.capacity],
        start_depot=place_of[fleet.start],
        end_depot=place_of[fleet.end],
        profile=profiles.index(fleet.allowed),
        name=",".join(str(member) for member in group.members),
        **limit,
    )


def _matrices(instance: RouteInstance, profiles: list[frozenset[int] | None]) -> list[type_matrix]:
    matrix = distance_matrix(instance)
    forbidden = forbidden_value(instance, matrix)
    clients = instance.clients
    return [
        matrix
        if allowed is None
        else without_nodes(matrix, [n for n in clients if n not in allowed], forbidden)
        for allowed in profiles
    ]
