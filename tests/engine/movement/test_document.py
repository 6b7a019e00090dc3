"""The movement documents: what is read, what is refused, what is answered."""

from __future__ import annotations

import json
from typing import Any

import pytest

from contractor.engine.errors import InputError
from contractor.engine.movement import movement_document

DATES = (
    *("2025-01-06", "2025-04-07", "2025-07-07", "2025-10-06"),
    *("2026-01-06", "2026-04-07", "2026-07-07"),
)
MOVING = ("1 in", "1 1/32 in", "1 3/64 in", "1 5/64 in", "1 1/8 in", "1 9/64 in", "1 11/64 in")


def document(**changes: Any) -> dict[str, Any]:
    readings = [
        {
            "on": on,
            "station": "6 ft",
            "height": "48 in",
            "inward": inward,
            "instrument": "plumb line and rule",
            "resolution": "1/64 in",
        }
        for on, inward in zip(DATES, MOVING, strict=True)
    ]
    return {"schema": "movement/1", "name": "north wall", "readings": readings} | changes


def changed(index: int, **members: Any) -> dict[str, Any]:
    posted = document()
    posted["readings"][index] |= members
    return posted


def test_a_moving_wall() -> None:
    answer = movement_document(document())
    assert answer["schema"] == "movement-verdict/1"
    assert answer["verdict"] == "moving in"
    (place,) = answer["series"]
    assert (place["station"], place["height"]) == ("6'-0\"", "4'-0\"")
    assert place["least_squares"]["slope"]["unit"] == "in/yr"
    assert place["least_squares"]["slope"]["value"] == pytest.approx(0.1165, abs=2e-3)
    assert place["least_squares"]["interval"]["confidence"] == 0.95
    assert answer["next_reading"]["on"] == "2026-08-06"


def test_the_order_of_posting_does_not_matter_and_the_answer_is_the_same_each_time() -> None:
    posted = document()
    first = json.dumps(movement_document(posted))
    posted["readings"].reverse()
    assert json.dumps(movement_document(posted)) == first


def test_places_are_kept_apart_and_spellings_of_one_place_together() -> None:
    posted = document()
    posted["readings"][1]["station"] = {"value": 72, "unit": "in"}
    posted["readings"].append(
        {"on": DATES[0], "station": "6 ft", "height": "48 in", "crack_width": "1/8 in"}
    )
    answer = movement_document(posted)
    assert [(p["quantity"], len(p["readings"])) for p in answer["series"]] == [
        ("crack_width", 1),
        ("inward", 7),
    ]


def test_metric_readings_are_not_rounded_to_a_tick() -> None:
    posted = document(
        readings=[
            {"on": on, "station": "2 m", "height": "1.2 m", "inward": f"{25 + 0.1 * i:.1f} mm"}
            for i, on in enumerate(DATES)
        ]
    )
    (place,) = movement_document(posted, system="si")["series"]
    assert place["readings"][1]["inward"]["value"] == pytest.approx(25.1)
    assert place["least_squares"]["slope"]["unit"] == "mm/yr"
    assert place["least_squares"]["slope"]["value"] == pytest.approx(0.4, abs=0.01)


@pytest.mark.parametrize(
    ("posted", "code", "pointer"),
    [
        (changed(1, on=DATES[0]), "same_day_readings", "/readings/1/on"),
        (changed(2, inward=1.0), "quantity_without_unit", "/readings/2/inward"),
        (changed(2, inward=None), "reading_without_value", "/readings/2"),
        (changed(2, crack_width="1/8 in"), "reading_without_value", "/readings/2"),
        (changed(2, inward="9 ft"), "reading_out_of_range", "/readings/2/inward"),
        (changed(3, on="2025-02-30"), "not_a_date", "/readings/3/on"),
        (changed(3, on="20250230"), "not_a_date", "/readings/3/on"),
        (changed(3, resolution="0 in"), "resolution_out_of_range", "/readings/3/resolution"),
        (changed(3, colour="red"), "unknown_member", "/readings/3/colour"),
        (changed(3, instrument=7), "not_text", "/readings/3/instrument"),
        (document(readings=[]), "readings_missing", "/readings"),
        (document(readings=["1 in"]), "not_an_object", "/readings/0"),
        (document(schema="movement/2"), "wrong_schema", "/schema"),
        (document(as_of="soon"), "not_a_date", "/as_of"),
        (document(policy={"confidence": 2}), "confidence_out_of_range", "/policy/confidence"),
        (
            *(document(policy={"growth_limit": "0 in/yr"}), "growth_limit_not_positive"),
            "/policy/growth_limit",
        ),
        ([], "not_an_object", ""),
    ],
)
def test_refusals(posted: object, code: str, pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        movement_document(posted)
    assert (caught.value.code, caught.value.pointer) == (code, pointer)


def test_too_many_readings_at_one_place() -> None:
    from datetime import date, timedelta

    rows = [
        {
            "on": (date(2020, 1, 1) + timedelta(days=i)).isoformat(),
            "station": "6 ft",
            "height": "4 ft",
            "inward": "1 in",
        }
        for i in range(501)
    ]
    with pytest.raises(InputError) as caught:
        movement_document(document(readings=rows))
    assert caught.value.code == "too_many_readings"


def test_the_policy_of_the_company_counts() -> None:
    policy = {"confidence": 0.9, "growth_limit": "0.25 in/yr"}
    (place,) = movement_document(document(policy=policy))["series"]
    assert place["least_squares"]["interval"]["confidence"] == 0.9
