"""Routing instances of the format svc-vrp/1, as whole numbers.

Distances and times are counted in tenths (metric ``dimacs``) or thousandths (``exact``) of the
instance's unit, coordinates in millionths. What cannot be held exactly is refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from contractor.engine.errors import InputError
from contractor.engine.rostering.fields import Field

SCHEMA = "svc-vrp/1"
Metric = Literal["dimacs", "exact"]
SCALES: dict[Metric, int] = {"dimacs": 10, "exact": 1000}
MICRO = 1_000_000
MOST_NODES = 3000
MOST_COORDINATE = 1e6
MOST_TIME = 1e8


@dataclass(frozen=True)
class Node:
    """A place with its demand and window; service starts from ``ready`` to ``due``."""

    x_micro: int
    y_micro: int
    demand: int
    ready: int
    due: int
    service: int


@dataclass(frozen=True)
class Fleet:
    """``count`` equal vehicles from node ``start`` to node ``end``; ``allowed`` None = all."""

    count: int
    capacity: int
    start: int
    end: int
    max_duration: int | None = None
    allowed: frozenset[int] | None = None


@dataclass(frozen=True)
class RouteInstance:
    name: str
    metric: Metric
    nodes: tuple[Node, ...]
    fleets: tuple[Fleet, ...]
    best_known: float | None = None

    @property
    def scale(self) -> int:
        return SCALES[self.metric]

    @property
    def depots(self) -> tuple[int, ...]:
        """Node 0 and every other node where a vehicle starts or ends, in order."""
        ends = {fleet.start for fleet in self.fleets} | {fleet.end for fleet in self.fleets}
        return tuple(sorted(ends | {0}))

    @property
    def clients(self) -> tuple[int, ...]:
        depots = set(self.depots)
        return tuple(number for number in range(len(self.nodes)) if number not in depots)


def read_instance(document: object) -> RouteInstance:
    """Return the instance of a svc-vrp/1 document; InputError with the place of what is wrong."""
    root = Field(document)
    root["schema"].one_of((SCHEMA,))
    metric: Metric = "dimacs" if root["metric"].one_of(tuple(SCALES)) == "dimacs" else "exact"
    rows = root["nodes"].list()
    if not 2 <= len(rows) <= MOST_NODES:
        raise root["nodes"].refuse(
            "number_out_of_range",
            f"{len(rows)} nodes cannot be planned.",
            f"Give a depot and 1 to {MOST_NODES - 1} places.",
        )
    nodes = tuple(_node(row, SCALES[metric]) for row in rows)
    fleets = tuple(_fleet(field, len(nodes), SCALES[metric]) for field in root["fleet"].list())
    if not fleets:
        raise root["fleet"].refuse("empty_list", "There is no vehicle.", "Add a vehicle.")
    name = root.get("name")
    instance = RouteInstance(
        name.text() if name else "", metric, nodes, fleets, _best_known(root.get("bks"))
    )
    _check_servable(instance)
    return instance


def _node(row: Field, scale: int) -> Node:
    fields = row.list()
    if len(fields) != 6:
        raise row.refuse(
            "not_a_node",
            f"A node has 6 numbers, this one {len(fields)}.",
            "Write [x, y, demand, ready, due, service].",
        )
    x, y, demand, ready, due, service = fields
    node = Node(
        x_micro=_scaled(x, MICRO, -MOST_COORDINATE, MOST_COORDINATE),
        y_micro=_scaled(y, MICRO, -MOST_COORDINATE, MOST_COORDINATE),
        demand=demand.whole(),
        ready=_scaled(ready, scale, 0, MOST_TIME),
        due=_scaled(due, scale, 0, MOST_TIME),
        service=_scaled(service, scale, 0, MOST_TIME),
    )
    if node.due < node.ready:
        raise due.refuse("window_empty", "due is before ready.", "Give due at or after ready.")
    return node


def _scaled(field: Field, scale: int, least: float, most: float) -> int:
    """Return the number of ``field`` times ``scale``, which must come out whole."""
    number = field.number(least=least)
    if number > most:
        raise field.refuse("number_out_of_range", f"{number:g} is above {most:g}.", "Write less.")
    exact = Decimal(str(field.value)) * scale
    if exact != exact.to_integral_value():
        raise field.refuse(
            "number_too_fine",
            f"{field.value} is finer than 1/{scale}, the step of this metric.",
            f"Round it to 1/{scale}.",
        )
    return int(exact)


def _fleet(field: Field, size: int, scale: int) -> Fleet:
    allowed, duration = field.get("allowed"), field.get("max_duration")
    nodes = [one.whole(most=size - 1) for one in allowed.list()] if allowed else None
    return Fleet(
        count=field["count"].whole(least=1, most=MOST_NODES),
        capacity=field["capacity"].whole(),
        start=field["start"].whole(most=size - 1),
        end=field["end"].whole(most=size - 1),
        max_duration=None if duration is None else _scaled(duration, scale, 0, MOST_TIME),
        allowed=None if nodes is None else frozenset(nodes),
    )


def _best_known(field: Field | None) -> float | None:
    if field is None:
        return None
    cost = field.get("cost")
    return None if cost is None else cost.number(above=0)


def _check_servable(instance: RouteInstance) -> None:
    """Refuse a depot with work, and a place that no vehicle may serve."""
    for depot in instance.depots:
        node = instance.nodes[depot]
        if node.service or node.demand:
            raise InputError(
                "depot_with_work",
                f"/nodes/{depot}",
                f"Node {depot} is where vehicles start or end, yet has demand or service.",
                "Set both to 0, or start the vehicles elsewhere.",
            )
    for number in instance.clients:
        demand = instance.nodes[number].demand
        if not any(_may_serve(fleet, number, demand) for fleet in instance.fleets):
            raise InputError(
                "node_unservable",
                f"/nodes/{number}",
                f"No vehicle that may serve node {number} holds its demand of {demand}.",
                "Allow it for a vehicle, or take it out.",
            )


def _may_serve(fleet: Fleet, number: int, demand: int) -> bool:
    return demand <= fleet.capacity and (fleet.allowed is None or number in fleet.allowed)
