"""Units against the worked cases (values.md section 8 in tests/reference/worked_cases.json)."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine import units
from contractor.engine.data.units import BASE, DISPLAY
from contractor.engine.errors import InputError

CASES: list[dict[str, Any]] = [
    case
    for case in json.loads(
        (Path(__file__).parents[1] / "reference" / "worked_cases.json").read_text("utf-8")
    )["cases"]
    if case["topic"] == "units"
]
PARSED = [case for case in CASES if case["id"].startswith("unit_parse")]
REJECTED = [case for case in CASES if case["id"].startswith("unit_reject")]
CONVERTED = [case for case in CASES if case["id"].startswith("conv_")]

# The rows of the notation table that the case file leaves out; 1 in = 25.4 mm exactly
# (international inch, NIST SP 811 appendix B); display 1/16 in, half away from zero.
TABLE = [
    ("2350 mm", Fraction(11750, 127), "7'-8 1/2\""),
    ('\u22123/8"', Fraction(-3, 8), "-0'-0 3/8\""),
    ('0.03125"', Fraction(1, 32), "0'-0 1/16\""),
    ("7'\u00a08\u00bd\u2033", Fraction(185, 2), "7'-8 1/2\""),
    ("7' 8½''", Fraction(185, 2), "7'-8 1/2\""),
    ("7 ft 8 1/2 in", Fraction(185, 2), "7'-8 1/2\""),
    ("7ft8.5in", Fraction(185, 2), "7'-8 1/2\""),
    ("7 FT. 8 1/2 IN.", Fraction(185, 2), "7'-8 1/2\""),
    ("7'-½\"", Fraction(169, 2), "7'-0 1/2\""),
    ("235 cm", Fraction(11750, 127), "7'-8 1/2\""),
    ('-1/64"', Fraction(-1, 64), "0'-0\""),
    ("8 feet", Fraction(96), "8'-0\""),
    ("7.5'", Fraction(90), "7'-6\""),
]
REFUSED = [
    "",
    "   ",
    "92.5",
    "7-8 1/2",
    "7' 13\"",
    '3/0"',
    '8 17/16"',
    "7.5' 6\"",
    "7'8'",
    '7 8"',
    '--7"',
    '+7"',
    "7' 11/2\"",
    "7' -",
    "1e3 in",
    "2,350 mm",
    "7 ft 8 mm",
    "7 yd",
    "92.5 in and more",
    '7²"',
    "٧ in",
    "nan in",
    "inf ft",
    "9" * 70 + " in",
]


def test_case_file_is_whole() -> None:
    assert (len(PARSED), len(REJECTED), len(CONVERTED)) == (17, 5, 12)


@pytest.mark.parametrize("case", PARSED, ids=lambda case: case["id"])
def test_worked_lengths(case: dict[str, Any]) -> None:
    inches = units.parse_length(case["inputs"]["text"])
    expected = case["expected"]
    assert inches == Fraction(expected["inches_exact"])
    assert abs(float(inches * Fraction(254, 10)) - expected["mm"]["value"]) <= 1e-6
    assert units.format_inches(inches) == expected["formatted"]


@pytest.mark.parametrize("case", REJECTED, ids=lambda case: case["id"])
def test_worked_rejects(case: dict[str, Any]) -> None:
    with pytest.raises(InputError) as caught:
        units.parse_length(case["inputs"]["text"], "/wall/length")
    assert caught.value.code == "length_not_readable"
    assert caught.value.pointer == "/wall/length"


@pytest.mark.parametrize("case", CONVERTED, ids=lambda case: case["id"])
def test_worked_conversions(case: dict[str, Any]) -> None:
    text = case["inputs"]["quantity"].removeprefix("1 ").removesuffix(" (mass)")
    expected = case["expected"]["si"]
    value = units.Q(1.0, text).to(expected["unit"]).magnitude
    assert math.isclose(value, expected["value"], rel_tol=expected["rel_tol"])


@pytest.mark.parametrize(("text", "inches", "shown"), TABLE)
def test_notation_table(text: str, inches: Fraction, shown: str) -> None:
    assert units.parse_length(text) == inches
    assert units.format_inches(inches) == shown


@pytest.mark.parametrize("text", REFUSED)
def test_refused_texts(text: str) -> None:
    with pytest.raises(InputError) as caught:
        units.read_length(text, "/at")
    assert caught.value.pointer == "/at"


def test_unit_library_reads_feet_and_inches_as_an_area() -> None:
    """Why the parser is ours: pint 0.25 gives 59.5 ft in, an area, and no error."""
    assert units.registry()("7 ft 8.5 in").dimensionality == {"[length]": 2}


@given(st.integers(-(10**6), 10**6), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_formatted_text_reads_back(ticks: int, denominator: int) -> None:
    text = units.format_length(ticks, denominator)
    assert abs(units.parse_length(text) - Fraction(ticks, 64)) <= Fraction(1, 2 * denominator)
    assert not text.startswith("-0'-0\"")


@given(st.integers(-(10**6), 10**6), st.sampled_from(["us", "si"]))
def test_written_length_reads_back(ticks: int, system: units.System) -> None:
    document = json.loads(json.dumps(units.write_length(ticks, system)))
    assert units.read_length_exact(document, "") == units.Length(ticks, True)


def test_metric_length_is_kept_to_the_nearest_tick_and_says_so() -> None:
    assert units.read_length_exact("2350 mm", "") == units.Length(5921, False)
    assert units.read_length_exact("25.4 mm", "") == units.Length(64, True)
    assert units.read_length_exact({"value": 2350, "unit": "mm"}, "").is_exact is False
    assert units.write_length(5920, "si") == {"value": 2349.5, "unit": "mm", "text": "2349.5 mm"}
    assert units.write_length(5920, "us")["text"] == "7'-8 1/2\""


def test_length_finer_than_a_tape_is_refused_with_the_nearest_mark() -> None:
    with pytest.raises(InputError) as caught:
        units.read_length('95.97"', "/wall/length")
    assert caught.value.code == "length_too_fine"
    assert "7'-11 31/32\"" in caught.value.remedy
    with pytest.raises(InputError):
        units.read_length({"value": 19.2, "unit": "in"}, "")
    assert units.read_exact_length({"value": 19.2, "unit": "in"}, "") == Fraction(96, 5)


@pytest.mark.parametrize(
    ("value", "code", "pointer"),
    [
        (92.5, "quantity_without_unit", "/at"),
        (7, "quantity_without_unit", "/at"),
        (True, "quantity_malformed", "/at"),
        (None, "quantity_malformed", "/at"),
        ([1, "in"], "quantity_malformed", "/at"),
        ({"value": 1}, "quantity_malformed", "/at"),
        ({"value": 1, "unit": 3}, "quantity_malformed", "/at/unit"),
        ({"value": 1, "unit": "in", "x": 1}, "unknown_member", "/at/x"),
        ({"value": "1", "unit": "in"}, "not_a_number", "/at/value"),
        ({"value": True, "unit": "in"}, "not_a_number", "/at/value"),
        ({"value": float("nan"), "unit": "in"}, "number_out_of_range", "/at/value"),
        ({"value": float("inf"), "unit": "in"}, "number_out_of_range", "/at/value"),
        ({"value": 10**400, "unit": "in"}, "number_out_of_range", "/at/value"),
        ({"value": Decimal("sNaN"), "unit": "in"}, "number_out_of_range", "/at/value"),
        ({"value": 10**9, "unit": "in"}, "length_out_of_range", "/at"),
        ({"value": 1, "unit": "psf"}, "quantity_wrong_unit", "/at"),
        ({"value": 1, "unit": "km"}, "quantity_wrong_unit", "/at"),
        ({"value": 1, "unit": ""}, "quantity_wrong_unit", "/at"),
        ("99999999 ft", "length_out_of_range", "/at"),
    ],
)
def test_refused_length_values(value: object, code: str, pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        units.read_length(value, "/at")
    assert (caught.value.code, caught.value.pointer) == (code, pointer)


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        # NIST SP 811 appendix B.8 factors, in kN/m3, Pa and N.m.
        ("60 psf/ft", "psf/ft", 60.0),
        ("60 pcf", "psf/ft", 60.0),
        ({"value": 9.425247830774772, "unit": "kN/m3"}, "psf/ft", 60.0),
        ({"value": 47.88025898033584, "unit": "Pa"}, "psf", 1.0),
        ("67.790897 N·m", "lbf ft", 50.0),
        ("50 ft-lbf", "lbf ft", 50.0),
        ("4 kip", "lbf", 4000.0),
        ("45.359237 kg", "lb", 100.0),
        ("1 kip-ft", "kip in", 12.0),
        ({"value": 10, "unit": "mi"}, "mi", 10.0),
        ("150 pcf", "pcf", 150.0),
    ],
)
def test_quantities(value: object, unit: str, expected: float) -> None:
    assert math.isclose(units.read_quantity(value, unit, ""), expected, rel_tol=1e-7)


@pytest.mark.parametrize(
    ("value", "unit", "code"),
    [
        (60, "psf/ft", "quantity_without_unit"),
        ("60", "psf/ft", "quantity_not_readable"),
        ("60 kg", "psf/ft", "quantity_wrong_unit"),
        ("60 lb", "lbf", "quantity_wrong_unit"),
        ("sixty psf", "psf", "quantity_not_readable"),
        ("nan psf", "psf", "quantity_not_readable"),
        ("1e400 psf", "psf", "quantity_wrong_unit"),
        ({"value": Decimal("1e-99999999"), "unit": "psf"}, "psf", "number_out_of_range"),
        ({"value": 60, "unit": "psf**9999"}, "psf", "quantity_wrong_unit"),
        ({"value": False, "unit": "psf"}, "psf", "not_a_number"),
    ],
)
def test_refused_quantities(value: object, unit: str, code: str) -> None:
    with pytest.raises(InputError) as caught:
        units.read_quantity(value, unit, "/surcharge")
    assert caught.value.code == code
    assert caught.value.pointer.startswith("/surcharge")


@pytest.mark.parametrize("unit", sorted(BASE))
def test_every_unit_writes_in_both_systems_and_reads_back(unit: str) -> None:
    systems: tuple[units.System, ...] = ("us", "si")
    for system in systems:
        document = units.write_quantity(12.5, unit, system)
        assert document["unit"] == (unit if system == "us" else DISPLAY[unit])
        assert math.isclose(units.read_quantity(document, unit, ""), 12.5, rel_tol=1e-9)


@pytest.mark.parametrize(
    ("value", "unit", "system", "text"),
    [
        (60.0, "psf/ft", "us", "60 psf/ft"),
        (60.0, "psf/ft", "si", "9.425 kN/m3"),
        (94593.07, "lbf in", "us", "94593 lbf in"),
        (0.0, "psi", "si", "0 MPa"),
        (-0.0, "psi", "us", "0 psi"),
        (0.01234567, "psi", "us", "0.01235 psi"),
        (1270.0, "lbf", "us", "1270 lbf"),
    ],
)
def test_quantity_text(value: float, unit: str, system: units.System, text: str) -> None:
    assert units.write_quantity(value, unit, system)["text"] == text


def test_rounding_down_to_a_sixteenth() -> None:
    assert [units.floor_to_sixteenth(ticks) for ticks in (0, 3, 4, 7, 1133)] == [0, 0, 4, 4, 1132]


def test_quantities_in_and_out() -> None:
    assert units.to_ticks(units.Q(7.5, "ft")) == 5760
    assert units.to_quantity(5760).to("foot").magnitude == 7.5
    with pytest.raises(InputError):
        units.to_ticks(units.Q(19.2, "inch"))


def test_module_imports_without_the_unit_library() -> None:
    code = "import sys, contractor.engine.units; sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
