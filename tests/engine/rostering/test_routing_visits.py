"""Service visits: nothing is lost on the way to PyVRP, and small cases reach the optimum."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable
from datetime import date, timedelta
from itertools import permutations, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.rostering.routing_search import run_search
from contractor.engine.rostering.routing_visits import MemberDay, VisitProblem, is_eligible
from contractor.engine.rostering.routing_visits_check import check_visits
from contractor.engine.rostering.routing_visits_model import VisitModel, build_visits
from contractor.engine.rostering.routing_visits_reading import read_visits, visit_plan_document
from contractor.engine.rostering.routing_visits_solve import VISIT_SETTINGS, plan_visits

MONDAY = date(2026, 6, 1)


def made_up(seed: int, size: int, *, members: int = 2, days: int = 3) -> dict[str, Any]:
    """Return a problem with skills, several windows, prices and limits, all drawn at random."""
    draw = random.Random(seed)
    places = ["yard", "depot", *(f"site {n}" for n in range(size))]
    at = [(draw.randint(0, 40), draw.randint(0, 40)) for _ in places]
    minutes = [[abs(x - u) + abs(y - v) for u, v in at] for x, y in at]
    dates = [(MONDAY + timedelta(days=n)).isoformat() for n in range(days)]
    member_days = [
        {
            "member": f"member {m}", "day": day, "start": draw.choice(["yard", "depot"]),
            "end": "yard", "from": "07:30", "to": draw.choice(["15:00", "16:30"]),
            "skills": draw.sample(["torque", "laser"], draw.randint(0, 2)),
            "max_minutes": draw.choice([None, 420]), "day_cost": draw.choice([0, 15]),
        }
        for m in range(members) for day in dates
    ]  # fmt: skip
    visits = []
    for n in range(size):
        windows = [
            {"day": day, "from": "08:00", "to": draw.choice(["10:00", "12:00"]), "cost": cost}
            for day, cost in zip(
                draw.sample(dates, draw.randint(1, days)), [0, 7, 12], strict=False
            )
        ]
        visits.append(
            {
                "id": f"v{n}", "place": f"site {n}", "minutes": draw.choice([30, 60, 90]),
                "windows": windows, "skills": draw.choice([[], [], ["torque"], ["laser"]]),
                "members": draw.choice([None, None, ["member 0"]]),
                "missed_cost": draw.choice([60, 150, 400]),
            }
        )  # fmt: skip
    return {
        "schema": "service-visits/1", "places": places, "minutes": minutes, "travel_min": 2,
        "member_days": member_days, "visits": visits,
    }  # fmt: skip


def recovered(model: VisitModel, data: Any) -> dict[str, Any]:
    """Return the whole problem as read back from PyVRP's data alone."""
    first = model.problem.first_day.toordinal()
    visits: dict[str, Any] = {}
    clients = data.clients()
    for client in clients:
        day, opens = divmod(client.tw_early, 1440)
        window = (date.fromordinal(first + day), opens, client.tw_late - day * 1440)
        group = None if client.group is None else data.group(client.group)
        visit = visits.setdefault(client.name, {"windows": [], "prizes": []})
        visit["windows"].append(window)
        visit["prizes"].append(client.prize)
        visit["minutes"] = client.service_duration
        visit["required"] = client.required if group is None else group.required
        if group is not None:
            assert not client.required
            assert group.name == client.name
            assert {clients[one].name for one in group.clients} == {client.name}
        barred = [
            kind.name
            for kind in data.vehicle_types()
            if data.duration_matrix(kind.profile)[0, client.location] > kind.tw_late
        ]
        visit["barred_types"] = barred
    return visits


@pytest.mark.parametrize("seed", range(6))
def test_every_constraint_comes_back_from_the_problem_data(seed: int) -> None:
    problem = read_visits(made_up(seed, 9))
    model = VisitModel(problem)
    data = build_visits(model)
    found = recovered(model, data)
    for visit in problem.visits:
        one = found[visit.id]
        assert one["windows"] == [(w.day, w.opens, w.closes) for w in visit.windows]
        assert one["minutes"] == visit.minutes
        assert one["required"] is (visit.missed_cost is None)
        if visit.missed_cost is not None:
            assert one["prizes"] == [visit.missed_cost - w.cost for w in visit.windows]
        barred = [
            ",".join(m.member for m in group.members)
            for group in model.groups
            if not is_eligible(visit, group.like)
        ]
        assert one["barred_types"] == barred
    check_vehicles(problem, model, data)


def check_vehicles(problem: VisitProblem, model: VisitModel, data: Any) -> None:
    read_back: list[tuple[Any, ...]] = []
    for kind in data.vehicle_types():
        day, opens = divmod(kind.tw_early, 1440)
        limit = kind.shift_duration if kind.shift_duration < 10**9 else None
        names = kind.name.split(",")
        assert kind.num_available == len(names)
        assert kind.unit_distance_cost == problem.travel_min
        read_back += [
            (
                name, problem.first_day + timedelta(days=day),
                model.depots[data.depot(kind.start_depot).location],
                model.depots[data.depot(kind.end_depot).location],
                opens, kind.tw_late - day * 1440, limit, kind.fixed_cost,
            )
            for name in names
        ]  # fmt: skip
    assert sorted(read_back, key=repr) == sorted(map(plain, problem.member_days), key=repr)
    free = [group for group in model.groups if not group.barred]
    places = [*model.depots, *(visit.place for visit in problem.visits)]
    for group in free[:1]:
        profile = data.vehicle_types()[model.groups.index(group)].profile
        matrix = data.duration_matrix(profile)
        for (i, a), (j, b) in product(enumerate(places), repeat=2):
            assert matrix[i, j] == problem.minutes[a][b]


def plain(one: MemberDay) -> tuple[Any, ...]:
    return (
        one.member, one.day, one.start, one.end, one.opens, one.closes, one.max_minutes,
        one.day_cost,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(4))
def test_the_cost_is_that_of_pyvrp_less_a_constant(seed: int) -> None:
    problem = read_visits(made_up(20 + seed, 12))
    model = VisitModel(problem)
    result = run_search(
        build_visits(model), seconds=None, iterations=60, seed=1, settings=VISIT_SETTINGS
    )
    plan = plan_visits(problem, iterations=60, seed=1)
    assert plan.is_feasible
    assert plan.cost.total == result.cost() - model.offset


@given(st.integers(0, 10**6), st.integers(3, 14))
@settings(max_examples=15, deadline=None)
def test_every_plan_passes_the_checker(seed: int, size: int) -> None:
    document = made_up(seed, size)
    plan = plan_visits(read_visits(document), iterations=40, seed=1)
    assert check_visits(document, visit_plan_document(plan)) == []


def enumerated(problem: VisitProblem) -> int:
    """Return the least cost over every assignment, window and order, by brute force."""
    visits, days = problem.visits, problem.member_days
    cheapest: dict[tuple[int, tuple[int, ...]], int | None] = {}

    def day_cost(number: int, members: tuple[int, ...]) -> int | None:
        key = (number, members)
        if key not in cheapest:
            costs = [
                cost
                for order in permutations(members)
                if (cost := run_cost(problem, days[number], order)) is not None
            ]
            cheapest[key] = min(costs, default=None)
        return cheapest[key]

    best = sum(visit.missed_cost or 10**9 for visit in visits)
    for choice in product([None, *range(len(days))], repeat=len(visits)):
        total = sum(
            visit.missed_cost if visit.missed_cost is not None else 10**9
            for visit, day in zip(visits, choice, strict=True)
            if day is None
        )
        for number in range(len(days)):
            members = tuple(v for v, day in enumerate(choice) if day == number)
            cost = day_cost(number, members) if members else 0
            if cost is None:
                break
            total += cost
        else:
            best = min(best, total)
    return best


def run_cost(problem: VisitProblem, day: MemberDay, order: tuple[int, ...]) -> int | None:
    """Return the cost of one member's day in this order; leaves at each possible minute."""
    visits = [problem.visits[number] for number in order]
    if not all(is_eligible(visit, day) for visit in visits):
        return None
    windows = []
    for visit in visits:
        found = [window for window in visit.windows if window.day == day.day]
        if not found:
            return None
        windows.append(found[0])
    for leave in range(day.opens, day.closes):
        now, place, drive = leave, day.start, 0
        is_fine = True
        for visit, window in zip(visits, windows, strict=True):
            leg = problem.minutes[place][visit.place]
            start = max(now + leg, window.opens)
            is_fine = is_fine and start <= window.closes
            drive, now, place = drive + leg, start + visit.minutes, visit.place
        leg = problem.minutes[place][day.end]
        out = now + leg - leave
        is_fine = is_fine and now + leg <= day.closes
        if is_fine and (day.max_minutes is None or out <= day.max_minutes):
            cost = sum(window.cost for window in windows)
            return (drive + leg) * problem.travel_min + day.day_cost + cost
    return None


@pytest.mark.parametrize("seed", range(3))
def test_small_problems_reach_the_enumerated_optimum(seed: int) -> None:
    problem = read_visits(made_up(40 + seed, 4, members=2, days=2))
    plan = plan_visits(problem, iterations=400, seed=1)
    assert plan.cost.total == enumerated(problem)


def test_equal_member_days_are_one_vehicle_type() -> None:
    document = made_up(3, 4)
    for one in document["member_days"]:
        one.update(start="yard", skills=["torque"], max_minutes=None, day_cost=0, to="16:30")
    for visit in document["visits"]:
        visit["members"] = None
    groups = VisitModel(read_visits(document)).groups
    assert [len(group.members) for group in groups] == [2, 2, 2]  # one for each day


def test_a_visit_nobody_can_make_is_missed_with_its_reason() -> None:
    document = made_up(5, 3)
    document["visits"][0].update(skills=["crane"], missed_cost=10)
    document["visits"][1]["windows"] = [{"day": "2026-06-30", "from": "08:00", "to": "09:00"}]
    document["visits"][2]["windows"] = [{"day": "2026-06-01", "from": "03:00", "to": "04:00"}]
    for number in (1, 2):
        document["visits"][number].update(skills=[], members=None)
    plan = plan_visits(read_visits(document), iterations=20, seed=1)
    assert [one.reason.split(" (")[0] for one in plan.missed] == [
        "no member may make it",
        "no member who may make it works on a day of its windows",
        "travel and work do not fit between its windows and any member's day",
    ]


def test_the_same_seed_gives_the_same_plan() -> None:
    problem = read_visits(made_up(8, 12))
    plans = [visit_plan_document(plan_visits(problem, iterations=40, seed=4)) for _ in range(2)]
    for plan in plans:
        plan.pop("seconds")
    assert json.dumps(plans[0]) == json.dumps(plans[1])


# A day made by hand: out 08:00, 30 min to a, 08:30-09:30, 20 min to b, waits, 10:00-10:30, home.
PROBLEM: dict[str, Any] = {
    "schema": "service-visits/1",
    "places": ["yard", "a", "b", "c"],
    "minutes": [[0, 30, 25, 9], [30, 0, 20, 9], [25, 20, 0, 9], [9, 9, 9, 0]],
    "travel_min": 2,
    "member_days": [
        {"member": "m", "day": "2026-06-01", "start": "yard", "end": "yard", "from": "08:00",
         "to": "12:00", "skills": ["torque"], "max_minutes": 180, "day_cost": 5},
        {"member": "n", "day": "2026-06-01", "start": "yard", "end": "yard", "from": "08:00",
         "to": "12:00"},
    ],
    "visits": [
        {"id": "va", "place": "a", "minutes": 60, "skills": ["torque"],
         "windows": [{"day": "2026-06-01", "from": "08:00", "to": "09:00", "cost": 3}]},
        {"id": "vb", "place": "b", "minutes": 30, "missed_cost": 90, "members": ["m"],
         "windows": [{"day": "2026-06-02", "from": "08:00", "to": "09:00"},
                     {"day": "2026-06-01", "from": "10:00", "to": "11:00", "cost": 1}]},
        {"id": "vc", "place": "c", "minutes": 240, "missed_cost": 40,
         "windows": [{"day": "2026-06-01", "from": "08:00", "to": "09:00"}]},
    ],
}  # fmt: skip
PLAN: dict[str, Any] = {
    "schema": "visit-plan/1",
    "stops": [
        {"visit": "va", "member": "m", "day": "2026-06-01", "arrive": "08:30", "start": "08:30",
         "finish": "09:30", "window": 0},
        {"visit": "vb", "member": "m", "day": "2026-06-01", "arrive": "09:50", "start": "10:00",
         "finish": "10:30", "window": 1},
    ],
    "missed": [{"visit": "vc", "reason": "too long"}],
    "cost": {"travel": 150, "days": 5, "windows": 4, "missed": 40, "total": 199},
    "travel_minutes": 75,
    "feasible": True,
}  # fmt: skip
Fault = Callable[[dict[str, Any], dict[str, Any]], Any]


def test_the_plan_made_by_hand_is_right_and_best() -> None:
    assert check_visits(PROBLEM, PLAN) == []
    plan = visit_plan_document(plan_visits(read_visits(PROBLEM), iterations=50, seed=1))
    assert (plan["cost"], plan["feasible"]) == (PLAN["cost"], True)


def stop(number: int, **changes: Any) -> Fault:
    return lambda _problem, plan: plan["stops"][number].update(changes)


def both(*faults: Fault) -> Fault:
    return lambda problem, plan: [fault(problem, plan) for fault in faults]


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        (lambda _, plan: plan.update(schema="x"), "plan_malformed"),
        (lambda _, plan: plan.pop("stops"), "plan_malformed"),
        (stop(0, start="8h"), "plan_malformed"),
        (stop(0, visit="vz"), "visit_unknown"),
        (lambda _, plan: plan["missed"].append({"visit": "vz"}), "visit_unknown"),
        (lambda _, plan: plan["stops"].append(dict(plan["stops"][0])), "visit_twice"),
        (lambda _, plan: plan["missed"].clear(), "visit_unaccounted"),
        (lambda _, plan: plan["missed"].append({"visit": "vb"}), "visit_both"),
        (lambda _, plan: plan["missed"].append({"visit": "va"}), "required_missed"),
        (stop(0, member="o"), "member_day_unknown"),
        (stop(0, day="2026-06-02"), "member_day_unknown"),
        (stop(0, window=1), "window_unknown"),
        (stop(0, member="n"), "skill_lacking"),
        (stop(1, member="n"), "member_not_allowed"),
        (stop(1, window=0), "outside_window"),
        (stop(1, start="09:59", finish="10:29"), "outside_window"),
        (stop(0, finish="09:29"), "wrong_duration"),
        (stop(1, arrive="09:49"), "travel_too_short"),
        (stop(0, start="08:29", finish="09:29"), "travel_too_short"),
        (stop(0, arrive="08:29"), "starts_before_shift"),
        (lambda problem, _: problem["member_days"][0].update(to="10:54"), "ends_after_shift"),
        (lambda problem, _: problem["member_days"][0].update(max_minutes=174), "day_too_long"),
        (lambda _, plan: plan["cost"].update(travel=149, total=198), "cost_wrong"),
        (lambda _, plan: plan.update(travel_minutes=74), "cost_wrong"),
        (lambda _, plan: plan.update(feasible=False), "feasible_wrong"),
    ],
)
def test_each_planted_fault_has_its_code(fault: Fault, code: str) -> None:
    problem, plan = copy.deepcopy(PROBLEM), copy.deepcopy(PLAN)
    fault(problem, plan)
    assert code in {one.code for one in check_visits(problem, plan)}


def set_at(path: list[Any], value: Any) -> dict[str, Any]:
    document: Any = copy.deepcopy(PROBLEM)
    target = document
    for step in path[:-1]:
        target = target[step]
    target[path[-1]] = value
    return dict(document)


@pytest.mark.parametrize(
    ("path", "value", "code"),
    [
        (["schema"], "x", "unknown_word"),
        (["places"], ["yard", "yard", "b", "c"], "repeated_id"),
        (["minutes"], [[0]], "not_square"),
        (["minutes", 0, 1], -1, "number_out_of_range"),
        (["visits"], [], "number_out_of_range"),
        (["visits", 1, "id"], "va", "repeated_id"),
        (["visits", 0, "place"], "moon", "unknown_place"),
        (["visits", 0, "windows"], [], "number_out_of_range"),
        (["visits", 0, "windows", 0, "from"], "24:01", "not_a_time"),
        (["visits", 0, "windows", 0, "to"], "07:00", "window_empty"),
        (["visits", 0, "windows", 0, "day"], "1 June", "not_a_date"),
        (["visits", 0, "skills"], ["crane"], "visit_impossible"),
        (["visits", 0, "minutes"], 200, "visit_impossible"),
        (["visits", 1, "windows", 1, "cost"], 91, "window_dearer_than_missing"),
        (["member_days", 1, "member"], "m", "repeated_id"),
        (["member_days", 0, "max_minutes"], 0, "number_out_of_range"),
        (["travel_min"], 0.5, "not_whole"),
    ],
)
def test_bad_problems_are_refused(path: list[Any], value: Any, code: str) -> None:
    with pytest.raises(InputError) as refused:
        read_visits(set_at(path, value))
    assert refused.value.code == code
