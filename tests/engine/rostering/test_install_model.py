"""The option table against its plain twin, the bound against brute force, rules, bad input."""

from __future__ import annotations

import copy
import functools
import itertools
import random
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from contractor.engine.errors import InputError
from contractor.engine.rostering import costs, relaxation
from contractor.engine.rostering.climb import climb
from contractor.engine.rostering.document import HALVES
from contractor.engine.rostering.legality import start_obstacles
from contractor.engine.rostering.options import build_options
from contractor.engine.rostering.reading import read_instance
from contractor.engine.rostering.relaxation import SCALE, solve_relaxation
from contractor.engine.rostering.rules import RULES, rows_used, run_rules
from contractor.engine.rostering.schedules import Schedules
from contractor.engine.rostering.table import OptionTable
from contractor.engine.rostering.worktime import WorkCalendar
from tests.engine.rostering.small import Document, crew, day, instance, job, random_instance

SEEDS = range(6)


def with_promises(seed: int) -> Document:
    """A random instance with a confirmed job, a pin and a holiday of the branch."""
    given = random_instance(seed, crews=3, jobs=8)
    given["jobs"][0]["confirmed"] = {"crew": "C1", "date": day(3), "half": "pm"}
    given["pins"] = [
        {"job": "J1", "crew": "C0", "date": None, "half": "am", "owner": "office"},
        {"job": "J2", "crew": None, "date": day(8), "half": None, "owner": "office"},
    ]
    given["branches"][0]["holidays"] = [day(2)]
    return given


@pytest.mark.parametrize("seed", SEEDS)
def test_the_table_has_exactly_the_legal_options_at_their_cost(seed: int) -> None:
    read = read_instance(with_promises(seed))
    table = build_options(read)
    listed = {
        (int(table.job[row]), int(table.crew[row]), int(table.start[row])): row
        for row in range(len(table))
    }
    assert len(listed) == len(table)
    for n, m in itertools.product(range(len(read.jobs)), range(len(read.crews))):
        one, team = read.jobs[n], read.crews[m]
        for cell in range(read.calendar_of(team).halfdays):
            when = read.calendar_of(team).days[cell // 2]
            legal = not start_obstacles(read, one, team, when, HALVES[cell % 2])
            assert legal == ((n, m, cell) in listed)
            if legal:
                row = listed[n, m, cell]
                length = costs.halfdays_needed(read, team, one)
                assert table.length[row] == length
                assert length is not None
                total = costs.visit_cost(read, team, one, cell, length).total
                assert table.cost[row] == total


def least_cost(table: OptionTable) -> int:
    """The optimum by trying every choice, job by job, of tables with few half-days."""
    choices: list[list[tuple[int, int]]] = [[(int(cost), 0)] for cost in table.unplanned]
    for row in range(len(table)):
        taken = sum(1 << cell for cell in cells_of(table, row))
        choices[int(table.job[row])].append((int(table.cost[row]), taken))

    @functools.cache
    def best(number: int, taken: int) -> int:
        if number == len(choices):
            return 0
        return min(
            cost + best(number + 1, taken | cells)
            for cost, cells in choices[number]
            if not taken & cells
        )

    return best(0, 0)


def cells_of(table: OptionTable, row: int) -> range:
    first = int(table.cell[row])
    return range(first, first + int(table.length[row]))


def tiny(seed: int) -> OptionTable:
    given = random_instance(seed, crews=2, jobs=5)
    given["last_day"] = day(3)
    return build_options(read_instance(given))


@pytest.mark.parametrize("seed", range(10))
def test_any_prices_give_a_bound_below_the_brute_force_optimum(seed: int) -> None:
    """Weak duality; and the detour of each option bounds every plan that uses it."""
    table, dice = tiny(seed), random.Random(seed)
    optimum = least_cost(table)
    schedules = Schedules(table, SCALE)
    for _ in range(3):
        prices = np.array([dice.randrange(0, 5_000_000) for _ in range(table.job_count)])
        priced = schedules.price(prices)
        assert -(-priced.bound // SCALE) <= optimum
        detours = schedules.detours(priced)
        for row in dice.sample(range(len(table)), 4):
            forced = table.rows((table.job != table.job[row]) | (np.arange(len(table)) == row))
            big = forced.unplanned.copy()
            big[table.job[row]] = 10**9
            with_row = least_cost(replace(forced, unplanned=big))
            assert priced.bound + detours[row] <= with_row * SCALE


@pytest.mark.parametrize("seed", range(6))
def test_schedules_found_backwards_cost_what_their_prices_say(seed: int) -> None:
    table, dice = tiny(seed), random.Random(seed)
    schedules = Schedules(table, SCALE)
    prices = np.array([dice.randrange(0, 900_000) for _ in range(table.job_count)])
    priced = schedules.price(prices)
    rows = schedules.rows_of(priced)
    taken = [cell for row in rows.tolist() for cell in cells_of(table, row)]
    assert len(taken) == len(set(taken))
    assert (
        priced.bound == np.minimum(prices, schedules.unplanned).sum() + priced.reduced[rows].sum()
    )


@pytest.mark.parametrize("seed", [0, 1, 3, 4])
def test_climbing_raises_the_bound_never_above_the_linear_program(seed: int) -> None:
    """In 3 and 4 many jobs compete for few half-days; in 0 the start is the best there is."""
    table = build_options(read_instance(random_instance(seed, crews=2, jobs=14)))
    schedules = Schedules(table, SCALE)
    start = table.unplanned * SCALE
    np.minimum.at(start, table.job, table.cost * SCALE)
    first = schedules.price(start).bound
    climbed = climb(schedules, start, lambda: False)
    best = solve_relaxation(table, np.zeros(0, np.int64), lambda: False)
    assert best.is_complete
    assert schedules.price(climbed.prices).bound == climbed.priced.bound
    assert first <= climbed.priced.bound <= best.bound * SCALE
    assert (climbed.priced.bound > first) == (seed in {3, 4})
    assert climb(schedules, start, lambda: True).priced.bound == first


@pytest.mark.parametrize("rows", [0, 10**9])
@pytest.mark.parametrize("seed", range(10))
def test_column_generation_ends_at_the_value_of_the_whole_linear_program(
    seed: int, rows: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """scipy solves the same program with all columns at once; with a climb first or without."""
    monkeypatch.setattr(relaxation, "INTERIOR_ROWS", rows)
    from scipy.optimize import linprog

    given = read_instance(random_instance(seed, crews=3, jobs=14))
    table = build_options(given)
    relaxed = solve_relaxation(table, rows_used(run_rules(given, table)), lambda: False)
    count, jobs = len(table), table.job_count
    once = np.zeros((jobs, count + jobs))
    once[table.job, np.arange(count)] = 1
    once[np.arange(jobs), count + np.arange(jobs)] = 1
    use = np.zeros((table.cell_count, count + jobs))
    for row in range(count):
        use[list(cells_of(table, row)), row] = 1
    answer = linprog(
        np.concatenate((table.cost, table.unplanned)),
        A_ub=use,
        b_ub=np.ones(table.cell_count),
        A_eq=once,
        b_eq=np.ones(jobs),
    )
    assert relaxed.is_complete
    assert relaxed.answer is not None
    assert relaxed.bound - 1 <= answer.fun <= relaxed.bound + 1e-6
    assert relaxed.answer.value == pytest.approx(answer.fun, abs=0.51)


def test_earliest_due_date_takes_the_jobs_in_order_of_their_due_days() -> None:
    """Jackson's rule on one crew: due days 3, 1, 2 are done in the order 1, 2, 3."""
    jobs = [job(f"J{d}", due=day(d), labour_h=15.0) for d in (3, 1, 2)]
    given = read_instance(instance([crew("C0")], jobs))
    table = build_options(given)
    result = next(r for r in run_rules(given, table) if r.name == "earliest due date")
    order = sorted(result.rows, key=lambda row: int(table.start[row]))
    assert [given.jobs[int(table.job[row])].id for row in order] == ["J1", "J2", "J3"]


def test_weighted_shortest_takes_the_heavier_of_two_equal_jobs() -> None:
    """Smith's rule: weight over length, largest first."""
    jobs = [job("J0", severity=1), job("J1", severity=4), job("J2", severity=4, labour_h=15.0)]
    given = read_instance(instance([crew("C0")], jobs))
    table = build_options(given)
    result = next(r for r in run_rules(given, table) if r.name == "weighted shortest")
    order = sorted(result.rows, key=lambda row: int(table.start[row]))
    assert [given.jobs[int(table.job[row])].id for row in order] == ["J1", "J0", "J2"]


def test_there_are_eight_rules_and_each_keeps_a_confirmed_visit() -> None:
    agreed = {"crew": "C0", "date": day(3), "half": "am"}
    given = read_instance(
        instance([crew("C0")], [job("J0"), job("J1", confirmed=agreed, due=day(14))])
    )
    table = build_options(given)
    results = run_rules(given, table)
    assert [result.name for result in results] == list(RULES)
    assert len(results) == 8
    for result in results:
        assert any(table.job[row] == 1 and table.start[row] == 6 for row in result.rows)


def test_working_days_are_counted_one_by_one_also_outside_the_horizon() -> None:
    first, last = date(2026, 5, 4), date(2026, 6, 15)
    off = frozenset({date(2026, 5, 25), date(2026, 4, 20), date(2026, 5, 30)})
    calendar = WorkCalendar(first, last, frozenset({0, 1, 2, 3, 5}), off)
    for offset in range(-60, 90):
        other = first + timedelta(days=offset)
        low, high = min(first, other), max(first, other)
        span = [low + timedelta(days=n) for n in range((high - low).days)]
        count = sum(one.weekday() in {0, 1, 2, 3, 5} and one not in off for one in span)
        assert calendar.position(other) == (count if offset >= 0 else -count)


BAD: list[tuple[str, str, Any]] = [
    ("/schema", "unknown_word", lambda d: d.update(schema="install-sched/2")),
    ("/last_day", "empty_horizon", lambda d: d.update(last_day=day(-1))),
    ("/last_day", "horizon_too_long", lambda d: d.update(last_day="2099-01-01")),
    ("/today", "missing_field", lambda d: d.pop("today")),
    ("/today", "not_a_date", lambda d: d.update(today="2026-02-30")),
    ("/speed_kmh", "number_out_of_range", lambda d: d.update(speed_kmh=0)),
    ("/crews/1/id", "duplicate_id", lambda d: d["crews"][1].update(id="C0")),
    ("/crews/0/branch", "unknown_branch", lambda d: d["crews"][0].update(branch="B9")),
    ("/crews/0/size", "not_whole", lambda d: d["crews"][0].update(size=2.5)),
    ("/crews/0/pace", "number_out_of_range", lambda d: d["crews"][0].update(pace=float("nan"))),
    ("/jobs/0/labour_h", "not_a_number", lambda d: d["jobs"][0].update(labour_h="6")),
    ("/jobs/0/labour_h", "number_out_of_range", lambda d: d["jobs"][0].update(labour_h=0)),
    ("/jobs/0/severity", "number_out_of_range", lambda d: d["jobs"][0].update(severity=5)),
    ("/jobs/0/xy", "not_a_place", lambda d: d["jobs"][0].update(xy=[1])),
    ("/jobs/0/weekdays/0", "number_out_of_range", lambda d: d["jobs"][0].update(weekdays=[7])),
    (
        "/jobs/0/blackout/0/1",
        "span_backwards",
        lambda d: d["jobs"][0].update(blackout=[[day(3), day(2)]]),
    ),
    (
        "/jobs/0/confirmed/crew",
        "unknown_crew",
        lambda d: d["jobs"][0].update(confirmed={"crew": "C9", "date": day(0), "half": "am"}),
    ),
    (
        "/jobs/0/confirmed/half",
        "unknown_word",
        lambda d: d["jobs"][0].update(confirmed={"crew": "C0", "date": day(0), "half": "noon"}),
    ),
    (
        "/weights/sev/4",
        "missing_field",
        lambda d: d.update(weights={**d["weights"], "sev": {"1": 1, "2": 2, "3": 4}}),
    ),
    ("/jobs", "not_a_list", lambda d: d.update(jobs={})),
    ("/pins/0", "empty_pin", lambda d: d.update(pins=[{"job": "J0", "owner": "office"}])),
    ("/shared_days", "not_a_flag", lambda d: d.update(shared_days="yes")),
]


@pytest.mark.parametrize(("pointer", "code", "spoil"), BAD)
def test_bad_documents_are_refused_with_a_pointer(pointer: str, code: str, spoil: Any) -> None:
    given = copy.deepcopy(random_instance(1))
    spoil(given)
    with pytest.raises(InputError) as refusal:
        read_instance(given)
    assert (refusal.value.pointer, refusal.value.code) == (pointer, code)
    assert refusal.value.reason and refusal.value.remedy


@pytest.mark.parametrize("document", [None, [], 3, "x", {}])
def test_other_json_is_refused(document: object) -> None:
    with pytest.raises(InputError):
        read_instance(document)


def test_no_crew_no_job_and_no_working_day_are_planned_without_a_word() -> None:
    from contractor.engine.rostering.optimize import plan

    for given in (
        instance([], [job("J0")]),
        instance([crew("C0")], []),
        instance([crew("C0")], [job("J0")], workdays_per_week=[]),
    ):
        answer = plan(read_instance(given), rounds=5)
        assert answer.visits == ()
        assert answer.proven
