"""Reading cut-stock/1 and cut-plan/1: every refusal names the field; what is written reads back."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from contractor.engine.cutting import plan_document, read_instance, read_plan
from contractor.engine.errors import InputError
from tests.engine.cutting.instances import Document, as_json, instance, plan_for

GOOD = instance([(100, 10, None), (60, 5, 2)], [(40, 3), (25, 2)], kerf=1, end_trim=2)


def changed(path: list[str | int], value: Any) -> Document:
    document = copy.deepcopy(GOOD)
    place: Any = document
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return document


REFUSALS: list[tuple[list[str | int], Any, str, str]] = [
    (["schema"], "cut-stock/2", "unknown_schema", "/schema"),
    (["kerf"], -1, "out_of_range", "/kerf"),
    (["kerf"], 1.5, "not_a_whole_number", "/kerf"),
    (["end_trim"], True, "not_a_whole_number", "/end_trim"),
    (["stock"], {}, "not_a_list", "/stock"),
    (["stock", 0], [], "not_an_object", "/stock/0"),
    (["stock", 1, "length"], 0, "out_of_range", "/stock/1/length"),
    (["stock", 1, "id"], "s0", "duplicate_id", "/stock/1/id"),
    (["stock", 1, "id"], "", "empty_id", "/stock/1/id"),
    (["stock", 0, "suply"], 3, "unknown_field", "/stock/0/suply"),
    (["stock", 0, "offcut"], "no", "not_a_flag", "/stock/0/offcut"),
    (["items", 0, "demand"], 30_000, "out_of_range", "/items/0/demand"),
    (["items", 0, "length"], 99, "piece_too_long", "/items/0/length"),
    (["items", 0, "due"], "next week", "not_a_date", "/items/0/due"),
    (["items", 0, "group"], 7, "not_text", "/items/0/group"),
    (["items"], [{}] * 2_001, "too_many_entries", "/items"),
]


@pytest.mark.parametrize(("path", "value", "code", "pointer"), REFUSALS)
def test_a_bad_document_is_refused_at_its_field(
    path: list[str | int], value: Any, code: str, pointer: str
) -> None:
    with pytest.raises(InputError) as caught:
        read_instance(changed(path, value))
    assert (caught.value.code, caught.value.pointer) == (code, pointer)


def test_too_many_pieces_in_all_are_refused() -> None:
    document = instance([(100, 1, None)], [(10, 15_000), (11, 15_000)])
    with pytest.raises(InputError, match="30000 pieces are more than the 20000"):
        read_instance(document)


def test_the_longest_piece_may_fill_the_bar_to_its_clean_end() -> None:
    """Bar 100, trim 2: a piece of 98 needs no second cut; 99 does not fit."""
    assert read_instance(changed(["items", 0, "length"], 98)).items[0].length == 98


def test_a_plan_reads_back_as_it_was_written() -> None:
    plan = plan_for(GOOD)
    again = read_plan(as_json(plan))
    assert plan_document(again) == plan_document(plan)
    assert again.bar_counter() == plan.bar_counter()


def test_a_plan_with_a_bad_pair_is_refused() -> None:
    document = as_json(plan_for(GOOD))
    document["bars"][0]["pieces"][0] = ["i0"]
    with pytest.raises(InputError) as caught:
        read_plan(document)
    assert caught.value.pointer == "/bars/0/pieces/0"
