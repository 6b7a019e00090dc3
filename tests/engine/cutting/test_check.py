"""The plan checker finds every planted fault it has a code for."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable

import pytest
from hypothesis import given, settings

from contractor.engine.cutting import check
from contractor.engine.cutting.check import check_plan
from tests.engine.cutting.instances import Document, as_json, documents, instance, plan_for

INSTANCE = instance(
    [(100, 10, None), (61, 5, 1)], [(40, 3), (25, 2)], kerf=1, end_trim=2, min_offcut=10
)
PLAN = as_json(plan_for(INSTANCE))


def wrong_schema(plan: Document) -> None:
    plan["schema"] = "cut-plan/2"


def no_bars(plan: Document) -> None:
    del plan["bars"]


def other_stock(plan: Document) -> None:
    plan["bars"][0]["stock"] = "s9"


def other_item(plan: Document) -> None:
    plan["bars"][0]["pieces"][0][0] = "i9"


def half_a_bar(plan: Document) -> None:
    plan["bars"][0]["count"] = 0.5


def no_pieces(plan: Document) -> None:
    plan["bars"].append({"stock": "s0", "count": 1, "pieces": [], "left": 97, "kept": True})
    plan["cost"] += 10


def full_to_bursting(plan: Document) -> None:
    plan["bars"][0]["pieces"] = [["i0", 3]]


def more_than_the_supply(plan: Document) -> None:
    short = {"stock": "s1", "count": 2, "pieces": [["i1", 1]], "left": 33, "kept": True}
    plan["bars"].append(short)


def one_piece_twice(plan: Document) -> None:
    plan["bars"].append(copy.deepcopy(plan["bars"][0]))


def one_bar_forgotten(plan: Document) -> None:
    plan["bars"].pop()


def kerf_forgotten(plan: Document) -> None:
    plan["bars"][0]["left"] += 1


def kept_turned_round(plan: Document) -> None:
    plan["bars"][0]["kept"] = not plan["bars"][0]["kept"]


def a_cent_less(plan: Document) -> None:
    plan["cost"] -= 1


def bound_above_cost(plan: Document) -> None:
    plan["bound"] = plan["cost"] + 1


def gap_made_up(plan: Document) -> None:
    plan["gap"] = 0.5


def proof_without_bound(plan: Document) -> None:
    plan["bound"] -= 1
    plan["gap"] = 1 / plan["cost"]


def unmet_made_up(plan: Document) -> None:
    plan["unmet"] = [["i9", 1]]


FAULTS: list[tuple[Callable[[Document], None], str]] = [
    (wrong_schema, "malformed"),
    (no_bars, "malformed"),
    (other_stock, "unknown_stock"),
    (other_item, "unknown_item"),
    (half_a_bar, "bad_count"),
    (no_pieces, "empty_bar"),
    (full_to_bursting, "overfull"),
    (more_than_the_supply, "over_supply"),
    (one_piece_twice, "over_cut"),
    (one_bar_forgotten, "under_cut"),
    (kerf_forgotten, "wrong_left"),
    (kept_turned_round, "wrong_kept"),
    (a_cent_less, "wrong_cost"),
    (bound_above_cost, "wrong_bound"),
    (gap_made_up, "wrong_gap"),
    (proof_without_bound, "false_proof"),
    (unmet_made_up, "wrong_unmet"),
]


@pytest.mark.parametrize(("plant", "code"), FAULTS)
def test_a_planted_fault_is_found(plant: Callable[[Document], None], code: str) -> None:
    plan = copy.deepcopy(PLAN)
    plant(plan)
    assert code in {fault.code for fault in check_plan(INSTANCE, plan)}


def test_the_right_plan_has_no_fault() -> None:
    assert check_plan(INSTANCE, PLAN) == []


def test_every_code_of_the_checker_has_a_planted_fault() -> None:
    listed = re.search(r"Codes of violations:\n\n(.*?)\.\n", str(check.__doc__), re.DOTALL)
    assert listed is not None
    assert set(re.findall(r"\w+", listed[1])) == {code for _, code in FAULTS}


def test_left_follows_the_exchange_format() -> None:
    """left = bar - trim - pieces - kerf x pieces, never below 0: a clean end loses no kerf."""
    document = instance([(100, 1, None)], [(49, 2)], kerf=1, end_trim=1)
    plan = as_json(plan_for(document))
    assert plan["bars"] == [
        {"stock": "s0", "count": 1, "pieces": [["i0", 2]], "left": 0, "kept": False}
    ]
    assert check_plan(document, plan) == []


@settings(max_examples=60, deadline=None)
@given(documents())
def test_every_plan_passes(document: Document) -> None:
    assert check_plan(document, as_json(plan_for(document, seconds=5))) == []
