"""The optimizer against an independent exact model and against what must not change an optimum."""

from __future__ import annotations

import copy
import itertools
from datetime import date, timedelta
from typing import Any

import pytest

from contractor.engine.rostering.check import check_plan, recompute_cost
from contractor.engine.rostering.optimize import plan
from contractor.engine.rostering.options import build_options
from contractor.engine.rostering.plan_document import plan_to_document
from contractor.engine.rostering.reading import read_instance
from contractor.engine.rostering.rules import run_rules
from tests.engine.rostering.small import Document, crew, day, instance, job, random_instance

SEEDS = range(8)


def solved(given: Document) -> Document:
    """Return the plan document of a proven optimum."""
    answer = plan_to_document(plan(read_instance(given), rounds=400, seed=1))
    assert check_plan(given, answer) == []
    assert answer["proven"] is True, "small instances must be proven"
    return answer


def exact_cost(given: Document) -> int:
    """Return the least cost by a model of our own: CP-SAT over every visit the checker allows."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    by_job: dict[str, list[Any]] = {}
    cells: dict[tuple[str, tuple[str, str]], list[Any]] = {}
    terms: list[Any] = []
    empty = recompute_cost(given, {"plan": {}})
    for one in given["jobs"]:
        by_job[one["id"]] = []
        for entry in every_visit(given, one["id"]):
            saving = empty - recompute_cost(given, {"plan": {one["id"]: entry}})
            take = model.new_bool_var("")
            by_job[one["id"]].append(take)
            terms.append(saving * take)
            for cell in half_days(given, entry):
                cells.setdefault((entry["crew"], cell), []).append(take)
    for takes in itertools.chain(by_job.values(), cells.values()):
        model.add_at_most_one(takes)
    model.maximize(sum(terms))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return int(empty - round(solver.objective_value))


def every_visit(given: Document, name: str) -> list[Document]:
    """Return each visit of one job that the independent checker lets pass."""
    first, last = (date.fromisoformat(given[key]) for key in ("first_day", "last_day"))
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    found = []
    for team, when, half in itertools.product(given["crews"], days, ("am", "pm")):
        for count in range(1, given["max_halfdays"] + 1):
            entry = {"crew": team["id"], "date": when.isoformat(), "half": half}
            entry |= {"halfdays": count}
            answer = {"schema": "install-plan/1", "plan": {name: entry}}
            cost = {"cost": 0, "bound": 0, "gap": 0.0, "proven": False}
            codes = {fault.code for fault in check_plan(given, {**answer, **cost})}
            if codes <= {"wrong_cost", "wrong_gap"}:
                found.append(entry)
    return found


def half_days(given: Document, entry: Document) -> list[tuple[str, str]]:
    off = set(given["public_holidays"])
    when, half, left, found = (
        date.fromisoformat(entry["date"]),
        entry["half"],
        entry["halfdays"],
        [],
    )
    while left:
        works = when.weekday() in given["workdays_per_week"] and when.isoformat() not in off
        for part in ("am", "pm"):
            is_before = when.isoformat() == entry["date"] and part < half
            if works and left and not is_before:
                found.append((when.isoformat(), part))
                left -= 1
        when += timedelta(days=1)
    return found


@pytest.mark.parametrize("seed", range(4))
def test_equals_an_independent_exact_model(seed: int) -> None:
    given = random_instance(seed, crews=2, jobs=6)
    assert solved(given)["cost"] == exact_cost(given)


@pytest.mark.parametrize("seed", SEEDS)
def test_never_dearer_than_the_best_of_eight_rules(seed: int) -> None:
    given = random_instance(seed, crews=3, jobs=12)
    read = read_instance(given)
    rules = run_rules(read, build_options(read))
    assert len(rules) == 8
    assert solved(given)["cost"] <= min(rule.cost for rule in rules)


def test_same_seed_and_work_give_the_same_plan() -> None:
    given = random_instance(3, crews=3, jobs=14)
    answers = [plan_to_document(plan(read_instance(given), rounds=30, seed=5)) for _ in range(2)]
    assert answers[0] == answers[1]


@pytest.mark.parametrize("seed", SEEDS)
def test_one_more_crew_never_costs_more(seed: int) -> None:
    given = random_instance(seed)
    more = copy.deepcopy(given)
    more["crews"].append(crew("C9", skills={s: day(60) for s in ("lead_safe", "rigging")}))
    assert solved(more)["cost"] <= solved(given)["cost"]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wider_window_and_an_earlier_permit_never_cost_more(seed: int) -> None:
    given = random_instance(seed)
    wider = copy.deepcopy(given)
    for one in wider["jobs"]:
        one.update(blackout=[], permit_release=day(0), weekdays=[0, 1, 2, 3, 4, 5, 6])
    assert solved(wider)["cost"] <= solved(given)["cost"]


@pytest.mark.parametrize("seed", SEEDS)
def test_other_names_and_order_keep_the_cost(seed: int) -> None:
    given = random_instance(seed)
    other = copy.deepcopy(given)
    for kind in ("crews", "jobs"):
        other[kind].reverse()
        for number, row in enumerate(other[kind]):
            row["id"] = f"{kind}-{number}"
    assert solved(other)["cost"] == solved(given)["cost"]


@pytest.mark.parametrize("seed", range(4))
def test_fifty_two_weeks_later_keeps_the_cost(seed: int) -> None:
    """364 days later the weekdays are the same; holidays move along."""
    given = random_instance(seed)
    assert solved(later(given))["cost"] == solved(given)["cost"]


def later(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: later(one) for key, one in value.items()}
    if isinstance(value, list):
        return [later(one) for one in value]
    if isinstance(value, str) and len(value) == 10 and value[4:5] == "-":
        return (date.fromisoformat(value) + timedelta(days=364)).isoformat()
    return value


def test_certificate_is_valid_through_its_last_day() -> None:
    one = job("J0", skills=["lead_safe"], labour_h=15.0)  # two half-days, one day
    until = instance([crew("C0", skills={"lead_safe": day(0)})], [one])
    assert solved(until)["plan"]["J0"]["date"] == day(0)
    past = instance([crew("C0", skills={"lead_safe": day(-1)})], [one])
    assert solved(past)["plan"] == {}


def test_two_half_day_jobs_share_the_drive_where_the_branch_says_so() -> None:
    """Apart: 2 x 24 = 48. Together home-A-B-home: both at 10 km east, so 24."""
    jobs = [job("J0"), job("J1")]
    apart = solved(instance([crew("C0")], jobs))
    together = solved(instance([crew("C0")], jobs, shared_days=True))
    assert (apart["cost"], together["cost"]) == (48, 24)


def test_branch_holiday_may_lie_inside_a_job() -> None:
    given = instance([crew("C0")], [job("J0", labour_h=30.0, due=day(14))])
    given["branches"][0]["holidays"] = [day(1)]
    answer = solved(given)
    assert answer["plan"]["J0"]["halfdays"] == 4
