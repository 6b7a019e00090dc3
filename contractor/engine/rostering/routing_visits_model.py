"""Service visits as PyVRP's problem data.

A member-day is a vehicle whose shift lies on one time axis for all days; equal ones are one
vehicle type. A visit with several windows is a group of clients of which one is served. A
missed visit forgoes its prize. Skills and named members are legs that cannot be driven.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from contractor.engine.rostering.routing_model import without_nodes
from contractor.engine.rostering.routing_visits import (
    MemberDay,
    Visit,
    VisitProblem,
    is_eligible,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class MemberGroup:
    """Member-days that differ in nothing but the member: one vehicle type."""

    members: tuple[MemberDay, ...]
    barred: tuple[int, ...]

    @property
    def like(self) -> MemberDay:
        return self.members[0]


@dataclass(frozen=True)
class VisitModel:
    """The numbering that leads from the solver's clients and vehicle types back to visits."""

    problem: VisitProblem

    @cached_property
    def groups(self) -> tuple[MemberGroup, ...]:
        found: dict[tuple[Any, ...], list[MemberDay]] = {}
        for one in sorted(self.problem.member_days, key=lambda one: (one.day, one.member)):
            found.setdefault(_key(one, self._barred(one)), []).append(one)
        return tuple(MemberGroup(tuple(ones), key[-1]) for key, ones in found.items())

    def _barred(self, member_day: MemberDay) -> tuple[int, ...]:
        """Return the numbers of the visits that the member may not make."""
        visits = enumerate(self.problem.visits)
        return tuple(number for number, visit in visits if not is_eligible(visit, member_day))

    @cached_property
    def clients(self) -> tuple[tuple[int, int], ...]:
        """Return (visit number, window number) of each client."""
        visits = self.problem.visits
        return tuple(
            (number, window)
            for number, visit in enumerate(visits)
            for window in range(len(visit.windows))
        )

    @cached_property
    def depots(self) -> tuple[int, ...]:
        """Return the places where days start or end, in order."""
        days = self.problem.member_days
        return tuple(sorted({one.start for one in days} | {one.end for one in days}))

    @property
    def offset(self) -> int:
        """What the solver's cost is above ours: prizes of windows that were not taken."""
        return sum(
            sum(prize(visit, number) for number in range(len(visit.windows))) - base(visit)
            for visit in self.problem.visits
        )


def _key(one: MemberDay, barred: tuple[int, ...]) -> tuple[Any, ...]:
    return (
        one.day, one.opens, one.closes, one.start, one.end, one.max_minutes, one.day_cost, barred,
    )  # fmt: skip


def base(visit: Visit) -> int:
    """Return the prize of a window without cost; a window's cost is taken off it."""
    if visit.missed_cost is not None:
        return visit.missed_cost
    return max(window.cost for window in visit.windows)


def prize(visit: Visit, window: int) -> int:
    return base(visit) - visit.windows[window].cost


def build_visits(model: VisitModel) -> Any:
    """Return the ``pyvrp.ProblemData``; locations are the depots, then one for each visit."""
    import pyvrp

    problem, depots = model.problem, model.depots
    profiles = list(dict.fromkeys(group.barred for group in model.groups))
    matrices = _matrices(model, profiles)
    groups: list[Any] = []
    clients: list[Any] = []
    for number, window in model.clients:
        visit = problem.visits[number]
        if len(visit.windows) > 1 and window == 0:
            groups.append(pyvrp.ClientGroup(required=visit.missed_cost is None, name=visit.id))
        group = len(groups) - 1 if len(visit.windows) > 1 else None
        if group is not None:
            groups[group].add_client(len(clients))
        clients.append(_client(model, number, window, group))
    return pyvrp.ProblemData(
        [pyvrp.Location(0, 0)] * (len(depots) + len(problem.visits)),
        clients,
        [pyvrp.Depot(number) for number in range(len(depots))],
        [_vehicle_type(model, group, profiles) for group in model.groups],
        matrices,
        matrices,
        groups,
    )


def _client(model: VisitModel, number: int, window: int, group: int | None) -> Any:
    import pyvrp

    visit = model.problem.visits[number]
    span = visit.windows[window]
    return pyvrp.Client(
        len(model.depots) + number,
        service_duration=visit.minutes,
        tw_early=model.problem.clock(span.day, span.opens),
        tw_late=model.problem.clock(span.day, span.closes),
        prize=prize(visit, window),
        required=visit.missed_cost is None and group is None,
        group=group,
        name=visit.id,
    )


def _vehicle_type(model: VisitModel, group: MemberGroup, profiles: list[tuple[int, ...]]) -> Any:
    import pyvrp

    one = group.like
    limit = {} if one.max_minutes is None else {"shift_duration": one.max_minutes}
    return pyvrp.VehicleType(
        len(group.members),
        start_depot=model.depots.index(one.start),
        end_depot=model.depots.index(one.end),
        fixed_cost=one.day_cost,
        tw_early=model.problem.clock(one.day, one.opens),
        tw_late=model.problem.clock(one.day, one.closes),
        unit_distance_cost=model.problem.travel_min,
        profile=profiles.index(group.barred),
        name=",".join(member.member for member in group.members),
        **limit,
    )


def _matrices(model: VisitModel, profiles: list[tuple[int, ...]]) -> list[NDArray[np.int64]]:
    import numpy as np

    problem = model.problem
    places = [*model.depots, *(visit.place for visit in problem.visits)]
    matrix = np.array(problem.minutes, dtype=np.int64)[np.ix_(places, places)]
    np.fill_diagonal(matrix, 0)
    days = [one.day for one in problem.member_days]
    forbidden = problem.clock(max(days), 2 * 1440) + 1
    first = len(model.depots)
    return [
        without_nodes(matrix, [first + number for number in barred], forbidden)
        if barred
        else matrix
        for barred in profiles
    ]
