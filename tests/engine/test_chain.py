"""The whole chain: layout, screening, bill and drawings of one wall and of a house agree."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from functools import partial
from typing import Any

import pytest

from contractor.engine import chain
from contractor.engine.chain import Shop, assess, assess_house, kit_of, lay_out_and_screen, prices
from contractor.engine.chain_bench import bench_shop, house, main, table
from contractor.engine.errors import InputError
from contractor.engine.layout.bench import random_survey
from contractor.engine.materials import FastenerCounts, Hardware, Travel
from contractor.engine.materials.check import check_bill
from contractor.engine.screening.whatif import Variant, what_if
from contractor.engine.survey_reader import read_survey
from tests.engine.drawing.reading import dimensions, parse, ticks_of
from tests.engine.drawing.test_elevation import overlaps
from tests.engine.materials.walls import line, parallel, parts, rates, survey

Document = dict[str, Any]


@pytest.fixture(scope="module")
def shop() -> Shop:
    return bench_shop()


def recount(documents: list[Document], found: Document) -> list[Any]:
    walls = [
        {"survey": document, "layout": wall["layout"], "name": kit["wall"]}
        for document, wall, kit in zip(
            documents, found["walls"], found["bill"]["kits"], strict=True
        )
    ]
    request = {"walls": walls, "hardware": None, "travel": None}
    return check_bill(request, found["bill"], parts(), rates())


def test_a_house_through_the_chain(shop: Shop) -> None:
    documents = house()
    found = assess_house(documents, shop)
    assert sum(len(wall["layout"]["braces"]) for wall in found["walls"]) == 30
    assert recount(documents, found) == []
    for wall in found["walls"]:
        assert wall["screening"]["outcome"] == "within screening limits"
        marks = [brace["mark"] for brace in wall["layout"]["braces"]]
        assert [brace["mark"] for brace in wall["screening"]["braces"]] == marks
        for mark in marks:
            assert f'data-mark="{mark}"' in wall["drawing"]
    plans = [wall["framing_plan"] is not None for wall in found["walls"]]
    assert plans == [False, True, False, False]


@pytest.mark.parametrize("soil", ["GW", "SM", "ML", "CL"])
@pytest.mark.parametrize("kind", ["poured_concrete", "hollow_block", "grouted_block"])
def test_layout_and_screening_agree(shop: Shop, soil: str, kind: str) -> None:
    """No spacing is wider than the screening carries; where it names none, an engineer looks."""
    base = survey()
    document = survey(wall=base["wall"] | {"kind": kind}, soil={"class": soil})
    found = lay_out_and_screen(read_survey(document), shop)
    assert found.screening is not None
    limit = found.screening.limit.ticks
    if limit is None:
        assert found.screening.outcome == "engineer review needed"
    elif found.layout.no_answer is None:
        assert (found.layout.largest_spacing_ticks or 0) <= limit


def test_the_bill_counts_what_the_screening_looked_at(shop: Shop) -> None:
    hardware = Hardware(
        shape="W6x12",
        through_bolts_per_bracket=6,
        through_bolt_diameter_ticks=48,
        anchors_per_bracket=3,
        anchor_diameter_ticks=32,
        torque_lbf_ft=40.0,
    )
    found = assess(survey(), replace(shop, hardware=hardware))
    fixings, bill = found["screening"]["fixings"], found["bill"]
    braces = len(found["layout"]["braces"])
    counts = {row["role"]: row["count"] for row in bill["lines"]}
    assert fixings["top_bolts"]["count"] * braces == counts["through_bolt"]
    assert fixings["base_anchors"]["count"] * braces == counts["anchor"]
    assert fixings["top_bolts"]["diameter"]["value"] == 0.75
    assert found["screening"]["beam"]["shape"] == bill["hardware"]["shape"] == "W6x12"
    assert bill["hardware"]["torque"]["value"] == 40.0


def test_default_hardware_is_the_screening_default() -> None:
    from contractor.engine.screening.hardware import DEFAULT_SHAPE, BraceKit

    assert kit_of(Hardware()) == BraceKit()
    assert Hardware().shape == DEFAULT_SHAPE


def test_nails_of_the_bill_are_those_of_the_screening() -> None:
    kit = kit_of(Hardware(counts=FastenerCounts(3, 4, 5), backer_ticks=84 * 64))
    assert (kit.backer.nails_per_block, kit.backer.nails_per_joist) == (4, 5)
    assert kit.backer.length_in == 84


def test_a_bolt_without_data_is_refused(shop: Shop) -> None:
    with pytest.raises(InputError) as caught:
        assess(survey(), replace(shop, hardware=Hardware(through_bolt_diameter_ticks=24)))
    assert caught.value.code == "unknown_bolt_size"


def test_a_wall_for_the_engineer_still_gets_every_sheet(shop: Shop) -> None:
    stone = survey(wall=survey()["wall"] | {"kind": "stone"}, soil=None)
    found = assess(stone, shop)
    assert found["screening"]["outcome"] == "engineer review needed"
    assert found["bill"]["lines"]
    assert "Engineer review needed: " in found["drawing"]


def test_a_wall_without_answer_has_no_bill_but_a_drawing(shop: Shop) -> None:
    door = {"kind": "opening", "label": "door", "from": "5 ft", "to": "17 ft", "removable": False}
    found = assess(survey(features=[door]), shop)
    assert found["bill"] is None
    assert found["layout"]["no_answer"] is not None
    assert "cannot be bridged" in found["drawing"]


def test_walls_of_one_name_are_told_apart(shop: Shop) -> None:
    found = assess_house([survey(), survey()], shop)
    assert [kit["wall"] for kit in found["bill"]["kits"]] == ["north wall", "north wall (2)"]


def test_what_if_is_priced_like_the_bill(shop: Shop) -> None:
    document = survey(features=[line()])
    travel = Travel(18.0, 32.0)
    bill = assess(document, shop, travel=travel)["bill"]
    (row,) = what_if(read_survey(document), [Variant("as it is")], price=prices(shop, travel))
    assert row.cost_cents == bill["cost"]["total_cents"]
    assert row.labour_h == pytest.approx(bill["cost"]["labour"]["value"])


def test_a_variant_with_another_kit_is_priced_with_it(shop: Shop) -> None:
    from contractor.engine.screening.hardware import kit_with

    kit = kit_with(bolt_count=6, bolt_diameter_in=0.625, anchor_count=3, anchor_diameter_in=0.625)
    read = read_survey(survey())
    plain, stronger = what_if(
        read, [Variant("plain"), Variant("stronger", kit=kit)], price=prices(shop)
    )
    assert (stronger.cost_cents or 0) > (plain.cost_cents or 0)


@pytest.mark.parametrize("seed", range(12))
def test_random_walls_are_counted_and_drawn_right(shop: Shop, seed: int) -> None:
    """Five random walls a seed: the recount agrees, sums are the wall, no words overlap."""
    chance = random.Random(seed)
    for _ in range(5):
        document = random_survey(chance)
        found = assess_house([document], shop, canvas="phone")
        if found["bill"] is not None:
            assert recount([document], found) == []
        (wall,) = found["walls"]
        root = parse(wall["drawing"])
        dims = [ticks_of(e.text or "") for e in dimensions(root, "spacing")]
        assert abs(sum(dims) - int(root.attrib["data-wall"])) <= 2
        for svg in filter(None, (wall["drawing"], wall["framing_plan"])):
            assert overlaps(parse(svg)) == []


def test_the_same_survey_gives_the_same_bytes(shop: Shop) -> None:
    document = survey(framing=parallel(), features=[line()])
    assert json.dumps(assess(document, shop)) == json.dumps(assess(document, shop))


def test_the_bench_measures_and_marks_what_is_above(monkeypatch: pytest.MonkeyPatch) -> None:
    from contractor.engine import chain_bench

    monkeypatch.setattr(chain_bench, "bench_statics", lambda cases: {"top": 1e-3})
    monkeypatch.setattr(chain_bench, "bench_house", partial(chain_bench.bench_house, repeats=1))
    rows, text = main(None, None, 5)
    assert [row["unit"] for row in rows] == ["s", "s", "", "ms", "ms", ""]
    assert "house of 4 walls, 30 braces" in text
    assert text.splitlines()[-1].endswith("ABOVE")
    assert table(rows) == text


def test_the_engine_does_not_need_the_drawing_extra() -> None:
    import subprocess
    import sys

    code = f"import sys; import {chain.__name__}; assert 'ezdxf' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=30)
