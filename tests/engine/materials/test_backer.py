"""Backer and blocking: the worked lumber takeoffs, measured bays, the first bay, stagger."""

from __future__ import annotations

from fractions import Fraction

import pytest

from contractor.engine.materials.backer import (
    clear_bays,
    joists_crossed,
    pieces_per_stick,
    plan_backer,
    sticks_needed,
)
from contractor.engine.materials.hardware import FastenerCounts, Hardware
from contractor.engine.survey import Framing
from contractor.engine.units import floor_to_sixteenth, nearest_tick

INCH = 64


def framing(*centers_in: Fraction | float) -> Framing:
    centers = tuple(nearest_tick(Fraction(str(c))) for c in centers_in)
    return Framing("parallel", "sawn", "2x10", "SPF", centers)


def modular(spacing: str, count: int) -> Framing:
    return framing(*(float(Fraction(spacing) * i) for i in range(count)))


@pytest.mark.parametrize(
    ("spacing", "bays", "joists", "exact", "cut", "nails", "per_8", "per_12", "per_16"),
    [
        ("12", 8, 9, 10.5, 10.5, 48, 9, 13, 18),
        ("16", 6, 7, 14.5, 14.5, 36, 6, 9, 13),
        ("19.2", 5, 6, 17.7, 17.6875, 30, 5, 8, 10),
        ("24", 4, 5, 22.5, 22.5, 24, 4, 6, 8),
    ],
)
def test_worked_takeoffs(
    spacing: str,
    bays: int,
    joists: int,
    exact: float,
    cut: float,
    nails: int,
    per_8: int,
    per_12: int,
    per_16: int,
) -> None:
    """An 8 ft backer with both ends on joist centres (derived: geometry), 3 nails a block end.

    Joists 1-1/2 in (PS 20, dry), kerf 1/8 in, block rounded down to 1/16 in.
    """
    plan = plan_backer(modular(spacing, bays + 3), Hardware(), 96)
    assert len(plan.blocks) == bays
    assert len(plan.joist_ticks) == joists
    assert {block.cut_ticks for block in plan.blocks} == {int(cut * INCH)}
    clear = Fraction(spacing) - Fraction(3, 2)
    assert float(clear) == pytest.approx(exact, abs=1e-9)
    assert plan.fasteners(FastenerCounts())["block_ends"] == nails
    block = int(cut * INCH)
    assert [pieces_per_stick(ft * 12 * INCH, block, 8) for ft in (8, 12, 16)] == [
        per_8,
        per_12,
        per_16,
    ]
    assert sticks_needed([block] * bays, 96 * INCH, 8) == 1


def test_old_thick_joists_leave_a_shorter_block() -> None:
    """Joists 1-5/8 in, as dressed before 1961 (read): 14-3/8 in at 16 in centres (derived)."""
    plan = plan_backer(modular("16", 9), Hardware(), 104)
    assert {block.cut_ticks for block in plan.blocks} == {int(14.375 * INCH)}


def test_two_half_sticks_do_not_come_from_one() -> None:
    """The kerf costs the second 48 in piece (derived)."""
    assert pieces_per_stick(96 * INCH, 48 * INCH, 8) == 1
    assert sticks_needed([48 * INCH] * 2, 96 * INCH, 8) == 2


def test_a_stick_shorter_than_a_piece_is_refused() -> None:
    with pytest.raises(ValueError, match="longer than the stick"):
        sticks_needed([97 * INCH], 96 * INCH, 8)


def test_measured_bays_are_cut_one_by_one() -> None:
    plan = plan_backer(framing(10.25, 26.5, 41.90625, 58.5), Hardware(), 96)
    cuts = [block.cut_ticks / INCH for block in plan.blocks]
    assert cuts == [9.5, 14.75, 13.875, 15.0625]
    assert [block.is_measured for block in plan.blocks] == [False, True, True, True]
    for block in plan.blocks:
        assert block.cut_ticks <= block.clear_ticks < block.cut_ticks + 4


def test_the_first_bay_counts_when_measured_by_itself() -> None:
    plan = plan_backer(framing(14.5, 30.5), Hardware(first_bay_clear_ticks=20 * INCH), 96)
    assert plan.blocks[0].cut_ticks == 20 * INCH
    assert plan.blocks[0].is_measured


def test_blocks_are_staggered_in_turn() -> None:
    plan = plan_backer(modular("16", 7), Hardware(), 96)
    signs = [block.stagger_ticks > 0 for block in plan.blocks]
    assert signs == [True, False] * 3


def test_unmeasured_joists_are_assumed_and_marked() -> None:
    plan = plan_backer(framing(), Hardware(assumed_joist_spacing_ticks=24 * INCH), 96)
    assert [c / INCH for c in plan.joist_ticks] == [24, 48, 72, 96]
    assert not plan.is_measured
    assert not any(block.is_measured for block in plan.blocks)


def test_a_sliver_of_a_bay_takes_no_block() -> None:
    plan = plan_backer(framing(1.5, 17.5), Hardware(), 96)
    assert len(plan.blocks) == 1


def test_company_counts_of_nails() -> None:
    """3 a block end, 3 through the backer into each block and each joist: common practice."""
    plan = plan_backer(modular("16", 7), Hardware(), 96)
    assert plan.fasteners(FastenerCounts()) == {
        "block_ends": 36,
        "backer_to_blocks": 18,
        "backer_to_joists": 21,
    }
    assert plan.fasteners(FastenerCounts(2, 4, 5)) == {
        "block_ends": 24,
        "backer_to_blocks": 24,
        "backer_to_joists": 35,
    }


def test_clear_bays_of_joists_an_odd_tick_thick() -> None:
    assert clear_bays([0, 1000], 97) == [(49, 952)]
    assert joists_crossed([900, 0, -5], 899) == (0,)
    assert floor_to_sixteenth(1132 + 3) == 1132
