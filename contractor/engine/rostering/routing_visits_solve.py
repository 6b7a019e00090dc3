"""Plans service visits with PyVRP and reads its answer back in visits, members and days."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from contractor.engine.rostering.routing_search import SearchSettings, engine_name, run_search
from contractor.engine.rostering.routing_visits import (
    CostParts,
    MemberDay,
    Missed,
    Stop,
    VisitPlan,
    VisitProblem,
    obstacle,
)
from contractor.engine.rostering.routing_visits_model import VisitModel, build_visits

# Visits have prices of their own, so a start penalty in legs means nothing here.
VISIT_SETTINGS = SearchSettings(start_penalty=None)
DEARER = "every place left for it costs more than missing it, or others took it"


def plan_visits(
    problem: VisitProblem,
    *,
    seconds: float | None = None,
    iterations: int | None = None,
    seed: int = 1,
    settings: SearchSettings | None = None,
) -> VisitPlan:
    """Return the cheapest plan found within ``seconds`` or ``iterations``.

    With ``iterations`` alone the answer is the same every time. ``is_feasible`` is False where
    the visits that must be made could not all be placed.
    """
    model = VisitModel(problem)
    result = run_search(
        build_visits(model),
        seconds=seconds,
        iterations=iterations,
        seed=seed,
        settings=settings or VISIT_SETTINGS,
    )
    return _plan(model, result, seed)


def _plan(model: VisitModel, result: Any, seed: int) -> VisitPlan:
    problem = model.problem
    left = [list(group.members) for group in model.groups]
    stops: list[Stop] = []
    travel = days = 0
    for route in sorted(result.best.routes(), key=lambda r: (r.vehicle_type(), r.start_time())):
        member_day = left[route.vehicle_type()].pop(0)
        clients = [step.idx for step in route if step.is_client()]
        stops += _stops(model, member_day, clients, route.start_time())
        travel += _drive(model, member_day, clients)
        days += member_day.day_cost
    made = {stop.visit: stop for stop in stops}
    missed = [visit for visit in problem.visits if visit.id not in made]
    cost = CostParts(
        travel=travel * problem.travel_min,
        days=days,
        windows=sum(
            visit.windows[made[visit.id].window].cost
            for visit in problem.visits
            if visit.id in made
        ),
        missed=sum(visit.missed_cost or 0 for visit in missed),
    )
    return VisitPlan(
        stops=tuple(sorted(stops, key=lambda one: (one.day, one.member, one.start, one.visit))),
        missed=tuple(Missed(one.id, obstacle(problem, one) or DEARER) for one in missed),
        cost=cost,
        travel_minutes=travel,
        is_feasible=bool(result.best.is_feasible()),
        iterations=int(result.num_iterations),
        seconds=float(result.runtime),
        seed=seed,
        engine=engine_name(),
    )


def _stops(model: VisitModel, member_day: MemberDay, clients: list[int], leave: int) -> list[Stop]:
    """Return the stops of one route; ``leave`` is minutes on the axis of all days."""
    problem = model.problem
    now = leave - problem.clock(member_day.day, 0)
    place = member_day.start
    stops = []
    for client in clients:
        number, window = model.clients[client]
        visit = problem.visits[number]
        arrive = now + problem.minutes[place][visit.place]
        start = max(arrive, visit.windows[window].opens)
        now, place = start + visit.minutes, visit.place
        stops.append(Stop(visit.id, member_day.member, member_day.day, arrive, start, now, window))
    return stops


def _drive(model: VisitModel, member_day: MemberDay, clients: list[int]) -> int:
    problem = model.problem
    visits = [problem.visits[model.clients[client][0]] for client in clients]
    places = [member_day.start, *(visit.place for visit in visits), member_day.end]
    return sum(problem.minutes[a][b] for a, b in pairwise(places))
