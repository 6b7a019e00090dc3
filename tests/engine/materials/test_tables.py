"""Wrench sizes and holes against ASME B18.2.1, ASME B18.2.2 and AISC 360 Table J3.3."""

from __future__ import annotations

from fractions import Fraction

import pytest

from contractor.engine.data.fasteners import BOLTS, LARGE_HOLE_CONFLICT
from contractor.engine.materials.tools import inch_text


@pytest.mark.parametrize(
    ("diameter", "head", "nut", "heavy", "hole"),
    [
        ("1/2", "3/4 in", "3/4 in", "7/8 in", "9/16 in"),
        ("5/8", "15/16 in", "15/16 in", "1-1/16 in", "11/16 in"),
        ("3/4", "1-1/8 in", "1-1/8 in", "1-1/4 in", "13/16 in"),
        ("7/8", "1-5/16 in", "1-5/16 in", "1-7/16 in", "15/16 in"),
        ("1", "1-1/2 in", "1-1/2 in", "1-5/8 in", None),
    ],
)
def test_wrenches_and_holes(
    diameter: str, head: str, nut: str, heavy: str, hole: str | None
) -> None:
    """Heads: ASME B18.2.1 (from memory, confirm); nuts: ASME B18.2.2 (read); holes: J3.3 (read)."""
    size = BOLTS[Fraction(diameter)]
    assert inch_text(size.hex_head_in) == head
    assert inch_text(size.hex_nut_in) == nut
    assert inch_text(size.heavy_hex_nut_in) == heavy
    if hole is None:
        assert size.standard_hole_in is None
        assert "360-10" in LARGE_HOLE_CONFLICT and "360-16" in LARGE_HOLE_CONFLICT
    else:
        assert size.standard_hole_in is not None
        assert inch_text(size.standard_hole_in) == hole
