"""Least cost, its bound and its proof: against the literature, an exact model, the plain rules."""

from __future__ import annotations

import subprocess
import sys
from importlib import import_module
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from contractor.engine.cutting import read_instance, solve
from contractor.engine.cutting.bounds import volume_bound
from contractor.engine.cutting.check import check_plan
from contractor.engine.cutting.heuristics import OPENINGS, Fit, decreasing
from contractor.engine.cutting.problem import reduce_instance
from contractor.engine.cutting.solve import Progress
from tests.engine.cutting.instances import (
    Document,
    as_json,
    documents,
    instance,
    plan_for,
    small_documents,
)

# V. Chvatal, Linear Programming (Freeman, 1983), chapter 13: raws of 100 in, LP optimum 452.25,
# so 453 raws (from memory, confirm). The same four widths stand in many solver manuals.
CHVATAL = instance([(100, 1, None)], [(45, 97), (36, 610), (31, 395), (14, 211)])

# The example of the encyclopedia article "Cutting stock problem" (Wikipedia): master rolls of
# 5600 mm; the volume bound is 72.7, so 73 rolls are the least.
ROLLS = instance(
    [(5600, 1, None)],
    [
        *[(1380, 22), (1520, 25), (1560, 12), (1710, 14), (1820, 18), (1880, 18), (1930, 20)],
        *[(2000, 10), (2050, 12), (2100, 14), (2140, 16), (2150, 18), (2200, 20)],
    ],
)


@pytest.mark.parametrize(("document", "least"), [(CHVATAL, 453), (ROLLS, 73)])
def test_published_examples(document: Document, least: int) -> None:
    plan = plan_for(document)
    assert (plan.cost, plan.bound, plan.is_proven) == (least, least, True)
    assert check_plan(document, as_json(plan)) == []


def test_a_bound_that_rounding_up_does_not_reach_is_closed_by_listing() -> None:
    """L = 132, pieces 44 x 2, 33 x 3, 12 x 6: the linear optimum is 259/132, yet two bars are not
    enough (M. Fieldhouse, The duality gap in trim problems, 1990; from memory, confirm). The
    exact model below agrees.
    """
    document = instance([(132, 1, None)], [(44, 2), (33, 3), (12, 6)])
    assert volume_bound(reduce_instance(read_instance(document)).problem) == 2
    plan = plan_for(document)
    assert (plan.cost, plan.bound) == (exact_cost(document, 4), 3)


def exact_cost(document: Document, most_bars: int) -> int | None:
    """Return the least cost by a plain assignment model (CP-SAT), None if there is no plan.

    One copy per possible bar, one integer per bar and piece; the bar rule as the exchange format
    words it: end_trim + pieces + kerf x (pieces - 1) within the length.
    """
    model = cp_model.CpModel()
    uses: list[tuple[cp_model.IntVar, int]] = []
    held: dict[str, list[cp_model.IntVar]] = {row["id"]: [] for row in document["items"]}
    for row in document["stock"]:
        copies = most_bars if row["supply"] is None else min(row["supply"], most_bars)
        for _ in range(copies):
            used = model.new_bool_var("")
            uses.append((used, row["cost"]))
            _fill(model, document, row["length"], used, held)
    for row in document["items"]:
        model.add(sum(held[row["id"]]) == row["demand"])
    model.minimize(sum(cost * used for used, cost in uses))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    return round(solver.objective_value) if status == cp_model.OPTIMAL else None


def _fill(
    model: cp_model.CpModel,
    document: Document,
    length: int,
    used: cp_model.IntVar,
    held: dict[str, list[cp_model.IntVar]],
) -> None:
    need = document["end_trim"] * used - document["kerf"] * used
    for row in document["items"]:
        number = model.new_int_var(0, row["demand"], "")
        held[row["id"]].append(number)
        model.add(number <= row["demand"] * used)
        need += (row["length"] + document["kerf"]) * number
    model.add(need <= length * used)


@settings(max_examples=60, deadline=None)
@given(small_documents())
def test_small_instances_equal_the_exact_model(document: Document) -> None:
    plan = plan_for(document)
    assert plan.cost == exact_cost(document, 7)
    assert plan.is_proven


@settings(max_examples=40, deadline=None)
@given(small_documents(is_short=True))
def test_pieces_stay_unmet_only_where_the_exact_model_has_no_plan(document: Document) -> None:
    plan = plan_for(document)
    cost = exact_cost(document, 7)
    assert bool(plan.unmet) == (cost is None)
    assert check_plan(document, as_json(plan)) == []
    if cost is not None:
        assert (plan.cost, plan.is_proven) == (cost, True)


@settings(max_examples=60, deadline=None)
@given(documents(), st.integers(0, 3))
def test_a_plan_costs_no_more_than_any_plain_rule_and_no_less_than_its_bound(
    document: Document, seed: int
) -> None:
    problem = reduce_instance(read_instance(document)).problem
    fits: tuple[Fit, ...] = ("first", "best")
    rules = [problem.cost(decreasing(problem, fit, how)[0]) for fit in fits for how in OPENINGS]
    plan = plan_for(document, seconds=5, seed=seed)
    assert volume_bound(problem) <= plan.bound <= plan.cost <= min(rules)


def test_the_same_seed_and_work_give_the_same_plan() -> None:
    document = instance([(1000, 7, None), (600, 4, 5)], [(90 + 17 * n, 3) for n in range(25)])
    plans = [plan_for(document, seconds=60, seed=3, work_limit=3_000_000) for _ in range(2)]
    assert plans[0].bars == plans[1].bars
    assert plans[0].bound == plans[1].bound


def test_without_time_the_best_rule_and_a_true_bound_come_back() -> None:
    plan = plan_for(ROLLS, seconds=0.0)
    assert plan.bound == 73
    assert plan.cost >= 73
    assert check_plan(ROLLS, as_json(plan)) == []


def test_a_cancelled_search_keeps_what_it_has() -> None:
    plan = plan_for(CHVATAL, cancelled=lambda: True)
    assert plan.cost >= 453 >= plan.bound
    assert check_plan(CHVATAL, as_json(plan)) == []


def test_progress_only_ever_improves() -> None:
    seen: list[Progress] = []
    document = instance([(1000, 7, None), (730, 5, None)], [(90 + 17 * n, 2) for n in range(25)])
    plan = plan_for(document, progress=seen.append)
    assert seen[-1].cost >= plan.cost
    assert all(a.cost >= b.cost and a.bound <= b.bound for a, b in pairwise(seen))


def test_a_demand_of_nothing_is_a_plan_of_nothing() -> None:
    plan = plan_for(instance([(100, 1, None)], [(10, 0)]))
    assert (plan.bars, plan.cost, plan.is_proven) == ((), 0, True)


def test_bars_that_are_out_of_supply_leave_everything_unmet() -> None:
    plan = plan_for(instance([(100, 1, 0)], [(10, 2)]))
    assert (plan.bars, plan.unmet) == ((), (("i0", 2),))


def test_very_long_bars_are_solved_in_a_coarse_unit_with_a_true_bound() -> None:
    """Bars of a million units: tables in the fine unit would not fit."""
    document = instance([(1_000_000, 1, None)], [(200_003 + 9_001 * n, 2) for n in range(20)])
    plan = plan_for(document, seconds=10)
    assert check_plan(document, as_json(plan)) == []
    problem = reduce_instance(read_instance(document)).problem
    assert volume_bound(problem) <= plan.bound <= plan.cost


@settings(max_examples=80, deadline=None)
@given(documents(most_pieces=24), st.integers(3, 30))
def test_units_that_get_finer_end_at_the_least_cost(document: Document, capacity: int) -> None:
    """As if no tables had room for more than a few units of length at first."""
    exact = plan_for(document)
    module = import_module("contractor.engine.cutting.solve")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "MAX_CAPACITY", 0)
        patch.setattr(module, "COARSE_CAPACITY", capacity)
        plan = plan_for(document)
    assert check_plan(document, as_json(plan)) == []
    assert (plan.cost, plan.bound, plan.is_proven) == (exact.cost, exact.cost, True)


def test_costs_of_many_cents_are_still_proven() -> None:
    """Worth needs 64-bit tables here: one cent of difference decides between two lengths."""
    document = instance([(100, 900_000_001, None), (50, 450_000_000, None)], [(50, 8), (25, 8)])
    plan = plan_for(document)
    assert (plan.cost, plan.is_proven) == (12 * 450_000_000, True)


def test_the_package_imports_without_numpy_or_a_solver() -> None:
    code = (
        "import sys, contractor.engine.cutting;"
        "print([m for m in ('numpy', 'highspy', 'ortools', 'django') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_solver_prints_nothing() -> None:
    code = (
        "from contractor.engine.cutting import read_instance, solve;"
        "solve(read_instance({'schema': 'cut-stock/1',"
        " 'stock': [{'id': 'a', 'length': 1000, 'cost': 9}, {'id': 'b', 'length': 730, 'cost': 7}],"
        " 'items': [{'id': str(n), 'length': 90 + 17 * n, 'demand': 2} for n in range(25)]}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout + done.stderr == ""


def test_solve_needs_no_document() -> None:
    assert solve(read_instance(CHVATAL), seconds=20).cost == 453
