"""Bills of materials: counts for both framing directions, furring, sealant, tools, cost."""

from __future__ import annotations

import json
from typing import Any

import pytest

from contractor.engine.errors import InputError
from contractor.engine.materials import bill_document
from contractor.engine.materials.check import check_bill
from tests.engine.materials.walls import line, parallel, parts, rates, request, survey

Document = dict[str, Any]


def bill_for(*surveys: Document, **changes: Any) -> Document:
    posted = request(*surveys, **changes)
    bill = bill_document(posted)
    assert check_bill(posted, bill, posted["parts"], posted["rates"]) == []
    return bill


def count(bill: Document, role: str) -> int:
    return sum(line["count"] for line in bill["lines"] if line["role"] == role)


def test_a_wall_with_joists_into_it() -> None:
    """Counts per brace: common practice."""
    bill = bill_for(survey())
    n = count(bill, "beam")
    assert n == 5
    assert {
        role: count(bill, role) for role in ("top_bracket", "bottom_bracket", "tightening_bolt")
    } == {"top_bracket": n, "bottom_bracket": n, "tightening_bolt": n}
    assert [count(bill, r) for r in ("through_bolt", "plate_washer", "washer", "nut")] == [20] * 4
    assert (count(bill, "anchor"), count(bill, "label")) == (10, 5)
    assert (count(bill, "backer"), count(bill, "blocking"), count(bill, "nail")) == (0, 0, 0)
    assert (count(bill, "homeowner_kit"), count(bill, "sealant")) == (1, 0)


def test_beams_carry_marks_cut_lengths_and_weights() -> None:
    (beams,) = [row for row in bill_for(survey())["lines"] if row["role"] == "beam"]
    marks = [piece["mark"] for piece in beams["pieces"]]
    assert marks == ["B1", "B2", "B3", "B4", "B5"]
    first = beams["pieces"][0]
    # 93-1/2 in rising 1/2 in over 24 ft, less the 1/2 in gap; 10 lb/ft (AISC section table)
    assert first["length"]["text"] == "7'-9 1/16\""
    assert first["weight"]["value"] == pytest.approx(10 * 93.0625 / 12, abs=0.01)


def test_a_wall_with_joists_along_it() -> None:
    bill = bill_for(survey(framing=parallel()))
    n = count(bill, "beam")
    (backer,) = bill["backers"]
    assert count(bill, "backer") == n
    # joists at 14-1/2 + 16 n: six cross the 8 ft backer, five bays and the first one at the rim
    assert len(backer["joists"]) == 6
    assert [block["cut"]["value"] for block in backer["blocks"]] == [13.75] + [14.5] * 5
    assert count(bill, "blocking") == 6 * n
    assert count(bill, "nail") == n * (6 * 2 * 3 + 6 * 3 + 6 * 3)
    assert any("first bay at the rim" in text for text in bill["unknowns"])


def test_screws_where_no_nailer_is_at_hand() -> None:
    hardware = {"fastening": "screws", "fasteners": {"per_block_end": 2}}
    bill = bill_for(survey(framing=parallel()), hardware=hardware)
    assert count(bill, "nail") == 0
    assert count(bill, "screw") == count(bill, "beam") * (6 * 2 * 2 + 6 * 3 + 6 * 3)
    assert any("deck and drywall screws snap" in text for text in bill["cautions"])


@pytest.mark.parametrize(
    ("gap", "tubes", "basis"), [("0 in", 0, None), ("1 in", 1, "counted"), (None, 1, "provisional")]
)
def test_sealant_follows_the_slab_edge(gap: str | None, tubes: int, basis: str | None) -> None:
    bill = bill_for(survey(slab={"thickness": "4 in", "edge_gap": gap}))
    assert count(bill, "sealant") == tubes
    rows = [row["basis"] for row in bill["lines"] if row["role"] == "sealant"]
    assert rows == ([] if basis is None else [basis])
    assert any("slab edge" in text for text in bill["unknowns"]) == (gap is None)


def test_furring_is_cut_around_the_line_it_clears() -> None:
    """Two 1-1/2 in layers clear 2 in; clearance 1-1/2 in each side of the line."""
    bill = bill_for(survey(features=[line()]))
    (furring,) = [row for row in bill["lines"] if row["role"] == "furring"]
    assert furring["profile"] == "2x4"
    first = [p["length"]["value"] for p in furring["pieces"] if p["mark"] == "B1 furring"]
    assert first == [58.5, 29.5625, 58.5, 29.5625]
    assert count(bill, "furring_screw") == 4 * count(bill, "furring")


def test_furring_is_as_wide_as_the_flange() -> None:
    for shape, size in (("S5x10", "2x4"), ("W4x13", "2x6"), ("W6x15", "2x8")):
        bill = bill_for(survey(features=[line()]), hardware={"shape": shape})
        (furring,) = [row for row in bill["lines"] if row["role"] == "furring"]
        assert furring["profile"] == size


def test_a_line_of_unknown_height_leaves_furring_whole_and_says_so() -> None:
    bill = bill_for(survey(features=[line(None, None)]))
    assert any("height of water pipe is not known" in text for text in bill["unknowns"])
    (furring,) = [row for row in bill["lines"] if row["role"] == "furring"]
    assert furring["pieces"][0]["length"]["value"] == 93.0625


def test_what_is_taken_down_is_charged_once_however_many_braces_meet_it() -> None:
    shelf = line(removable=True, label="shelf")
    bill = bill_for(survey(features=[shelf]))
    (moved,) = [row for row in bill["cost"]["lines"] if "fixture down" in row["what"]]
    assert moved["quantity"] == "1 h"
    assert any("shelf must come down" in text for text in bill["cautions"])


def test_bolts_pass_the_wood() -> None:
    """Grip 1-1/2 + 1/4 in plate + washers, nut 35/64 in (ASME B18.2.2; from memory, confirm)."""
    (bolt,) = [r for r in bill_for(survey())["lines"] if r["role"] == "through_bolt"]
    assert bolt["part"] == "HB-58-3"
    thick = parallel() | {
        "joists": "perpendicular",
        "centers": {"first": "8 in", "spacing": "16 in"},
    }
    bill = bill_for(survey(framing=thick | {"thickness": "2 in"}))
    (bolt,) = [row for row in bill["lines"] if row["role"] == "through_bolt"]
    assert bolt["part"] == "HB-58-3H"


def test_the_lifting_caution() -> None:
    """NIOSH 94-110: load constant 51 lb."""
    bill = bill_for(survey())
    assert bill["lifting"]["heavy_pieces"] == 5
    assert "two people lift" in bill["lifting"]["caution"]
    light = bill_for(survey(), hardware={"shape": "S3x5.7"})
    assert light["lifting"]["heavy_pieces"] == 0
    assert light["lifting"]["caution"] is None


def test_kits_weigh_what_their_lines_weigh() -> None:
    bill = bill_for(survey(), survey("south wall", framing=parallel()))
    for kit in bill["kits"]:
        lines = sum(r["weight"]["value"] for r in bill["lines"] if r["wall"] == kit["wall"])
        assert kit["weight"]["value"] == pytest.approx(lines, abs=0.1)
    assert [kit["wall"] for kit in bill["kits"]] == ["north wall", "south wall"]
    assert count(bill, "homeowner_kit") == 1


def test_tools_are_sized_by_the_hardware() -> None:
    """ASME B18.2.1/B18.2.2 widths, AISC 360 Table J3.3 holes, anchor bit = anchor diameter."""
    tools = {(t["tool"], t["use"]): t["size"] for t in bill_for(survey())["tools"]}
    assert tools["wrench, bolt head", "tightening bolt"] == "1-1/8 in"
    assert tools["wrench, bolt head", "through bolts"] == "15/16 in"
    assert tools["steel bit", "through bolts, in the bracket"] == "11/16 in"
    assert tools["rotary hammer with masonry bit", "anchors"] == "5/8 in, hole 3 in deep"
    assert tools["torque wrench", "tightening bolts"] == "reads 50 lbf ft"


def test_the_cost_sheet() -> None:
    bill = bill_for(survey())
    cost = bill["cost"]
    (beam,) = [row for row in cost["lines"] if row["part"] == "BM-S5X10-A36"]
    (beams,) = [row for row in bill["lines"] if row["role"] == "beam"]
    inches = sum(piece["length"]["value"] for piece in beams["pieces"])
    # cheapest by the foot: 38730 cents for 40 ft, 8 % waste
    assert beam["cents"] == round(inches / 480 * 1.08 * 38730)
    assert "$387.30 a bar of 40'-0\", 8 % waste" in beam["origin"]
    assert (
        cost["total_cents"] == cost["material_cents"] + cost["labour_cents"] + cost["travel_cents"]
    )
    # 2.5 h once, 1.55 h a brace
    assert cost["labour"]["value"] == pytest.approx(0.75 + 0.75 + 0.5 + 5 * 1.55)
    assert cost["trips"] == 1
    mileage = [row["cents"] for row in cost["lines"] if row["what"] == "Mileage"]
    assert mileage == [2 * 18 * 67]


def test_no_travel_no_travel_lines() -> None:
    assert bill_for(survey(), travel=None)["cost"]["travel_cents"] == 0


def test_a_wall_too_short_for_braces_costs_nothing() -> None:
    short = survey(
        wall={"length": "20 in", "kind": "poured_concrete"},
        heights=[
            {"at": "0 in", "slab_to_subfloor": "8 ft"},
            {"at": "20 in", "slab_to_subfloor": "8 ft"},
        ],
    )
    bill = bill_for(short)
    assert bill["lines"] == []
    assert bill["tools"] == []
    assert bill["cost"]["total_cents"] == 0


def test_metric_readers_get_millimetres_and_kilograms() -> None:
    posted = request(survey())
    bill = bill_document(posted, system="si")
    (beams,) = [row for row in bill["lines"] if row["role"] == "beam"]
    assert beams["pieces"][0]["length"]["unit"] == "mm"
    assert beams["weight"]["unit"] == "kg"


def test_the_same_request_gives_the_same_bytes() -> None:
    posted = request(survey(features=[line()]), survey("south wall", framing=parallel()))
    assert json.dumps(bill_document(posted)) == json.dumps(bill_document(posted))


def without_role(role: str) -> Document:
    document = parts()
    document["parts"] = [part for part in document["parts"] if part["role"] != role]
    return document


@pytest.mark.parametrize(
    ("changes", "code", "pointer"),
    [
        ({"hardware": {"shape": "S9x99"}}, "no_part_for", "/parts"),
        ({"hardware": {"grade": "A514"}}, "no_part_for", "/parts"),
        ({"parts": without_role("anchor")}, "no_part_for", "/parts"),
        ({"hardware": {"through_bolt_diameter": "7/8 in"}}, "no_part_for", "/parts"),
        ({"hardware": {"fastening": "glue"}}, "unknown_choice", "/hardware/fastening"),
        (
            {"hardware": {"anchors_per_bracket": 0}},
            *("not_a_count", "/hardware/anchors_per_bracket"),
        ),
        ({"hardware": {"colour": "red"}}, "unknown_member", "/hardware/colour"),
        ({"hardware": {"kerf": "0 in"}}, "length_not_positive", "/hardware/kerf"),
        ({"rates": {"schema": "other"}}, "wrong_schema", "/rates/schema"),
        ({"rates": None}, "missing", "/rates"),
        ({"walls": []}, "not_a_list", "/walls"),
        ({"schema": "bill"}, "wrong_schema", "/schema"),
        ({"travel": {"distance": 18}}, "quantity_without_unit", "/travel/distance"),
        ({"name": 7}, "not_text", "/name"),
    ],
)
def test_refusals(changes: Document, code: str, pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        bill_document(request(**changes))
    assert (caught.value.code, caught.value.pointer) == (code, pointer)


def test_refusals_inside_a_wall_point_there() -> None:
    posted = request()
    posted["walls"][0]["survey"]["wall"]["length"] = 288
    with pytest.raises(InputError) as caught:
        bill_document(posted)
    assert caught.value.pointer == "/walls/0/survey/wall/length"


@pytest.mark.parametrize(
    ("member", "value", "code"),
    [
        ("at", "30 ft", "brace_outside_wall"),
        ("beam_length", "50 ft", "beam_longer_than_stock"),
        ("furring_layers", "two", "not_a_count"),
        ("specials", "pipe", "not_a_list"),
        ("mark", "", "not_text"),
        ("colour", "red", "unknown_member"),
    ],
)
def test_braces_that_cannot_be_counted(member: str, value: object, code: str) -> None:
    posted = request()
    posted["walls"][0]["layout"]["braces"][0][member] = value
    with pytest.raises(InputError) as caught:
        bill_document(posted)
    assert caught.value.code == code


def test_a_layout_without_answer_has_no_bill() -> None:
    posted = request()
    posted["walls"][0]["layout"]["no_answer"] = {"from": "0 in"}
    with pytest.raises(InputError) as caught:
        bill_document(posted)
    assert caught.value.code == "layout_without_answer"


def test_two_walls_of_one_name_are_refused() -> None:
    with pytest.raises(InputError) as caught:
        bill_document(request(survey(), survey()))
    assert (caught.value.code, caught.value.pointer) == ("wall_twice", "/walls/1/name")


def test_parts_and_rates_may_come_from_the_caller() -> None:
    from contractor.engine.materials import read_catalogue, read_rates

    posted = request()
    del posted["parts"], posted["rates"]
    bill = bill_document(posted, parts=read_catalogue(parts()), rates=read_rates(rates()))
    assert check_bill(posted, bill, parts(), rates()) == []


def test_a_code_may_occur_once_in_a_catalogue() -> None:
    doubled = parts()
    doubled["parts"].append(doubled["parts"][0])
    with pytest.raises(InputError) as caught:
        bill_document(request(parts=doubled))
    assert caught.value.code == "part_twice"


def test_what_the_catalogue_does_not_know_is_said() -> None:
    document = parts()
    (label,) = [part for part in document["parts"] if part["role"] == "label"]
    del label["weight"], label["pack"]
    document["parts"].append({"code": "GLOVES", "kind": "consumable", "description": "Gloves"})
    bill = bill_for(survey(), parts=document)
    assert bill["unknowns"][-2:] == [
        "No weight in the catalogue: LB-DATE; totals leave it out.",
        "No price in the catalogue: LB-DATE; totals leave it out.",
    ]
    (cost,) = [row for row in bill["cost"]["lines"] if row["part"] == "LB-DATE"]
    assert (cost["cents"], cost["origin"]) == (0, "no price in the catalogue")


def test_a_bar_without_a_length_is_no_bar() -> None:
    document = parts()
    for part in document["parts"]:
        if part["code"] == "BM-S5X10-A36":
            part["stock"] = []
    with pytest.raises(InputError) as caught:
        bill_document(request(parts=document))
    assert caught.value.code == "no_part_for"
