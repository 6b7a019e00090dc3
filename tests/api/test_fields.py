"""Quantities at the border: NIST SP 811 factors (1 in = 25.4 mm, 1 lbf = 4.448 221 615 N)."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework import serializers

from contractor.api import faults
from contractor.api.fields import InstantField, LengthField, QuantityField
from contractor.api.serializers import StrictSerializer


class Shape(StrictSerializer):
    height = LengthField(source="height_ticks", positive=True, required=False)
    shift = LengthField(source="shift_ticks", minimum=None, required=False)
    load = QuantityField("lbf", source="load_lbf", minimum=0, required=False)
    at = InstantField(required=False)


def read(**body: Any) -> dict[str, Any]:
    shape = Shape(data=body)
    shape.is_valid(raise_exception=True)
    values: dict[str, Any] = shape.validated_data
    return values


def refusal(**body: Any) -> dict[str, str]:
    with pytest.raises(serializers.ValidationError) as refused:
        read(**body)
    (entry,) = faults.listed(refused.value.detail)
    return entry


@pytest.mark.parametrize(
    "text", ["7'-8 1/2\"", '92.5"', {"value": 92.5, "unit": "in"}, {"value": 2349.5, "unit": "mm"}]
)
def test_lengths_are_read_to_ticks(text: Any) -> None:
    assert read(height=text) == {"height_ticks": 5920}


def test_lengths_are_written_in_the_callers_system() -> None:
    row = {"height_ticks": 5920, "load_lbf": 100.0}
    us = Shape(row, context={"units": "us"}).data
    assert us["height"] == {"value": 92.5, "unit": "in", "text": "7'-8 1/2\""}
    assert us["load"] == {"value": 100.0, "unit": "lbf", "text": "100 lbf"}
    si = Shape(row, context={"units": "si"}).data
    assert si["height"]["value"] == 2349.5
    assert si["height"]["unit"] == "mm"
    force = si["load"]["value"] * {"N": 1, "kN": 1000}[si["load"]["unit"]]
    assert force == pytest.approx(444.8221615, abs=1e-4)


def test_what_is_written_can_be_read_again() -> None:
    shown = Shape({"height_ticks": 5921}, context={"units": "si"}).data["height"]
    assert read(height=shown) == {"height_ticks": 5921}


@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        ({"height": 92.5}, "#/height", "quantity_without_unit"),
        ({"height": {"value": "x", "unit": "in"}}, "#/height/value", "not_a_number"),
        ({"height": {"value": 1, "unit": "psf"}}, "#/height", "quantity_wrong_unit"),
        ({"height": '0"'}, "#/height", "length_too_small"),
        ({"load": {"value": 1, "unit": "ft"}}, "#/load", "quantity_wrong_unit"),
        ({"load": "-1 lbf"}, "#/load", "too_small"),
        ({"at": "2026-03-08T14:30:00"}, "#/at", "time_without_offset"),
    ],
)
def test_refusals_have_pointer_and_code(body: dict[str, Any], pointer: str, code: str) -> None:
    entry = refusal(**body)
    assert (entry["pointer"], entry["code"]) == (pointer, code)


def test_a_negative_length_only_where_it_makes_sense() -> None:
    assert read(shift='-1/4"') == {"shift_ticks": -16}


def test_instants_leave_in_utc() -> None:
    value = read(at="2026-03-08T14:30:00-05:00")
    assert Shape(value).data["at"] == "2026-03-08T19:30:00Z"
