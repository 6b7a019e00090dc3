"""Packing for reservations: every answer can be sawn, and a CP-SAT model is the judge of misses."""

from __future__ import annotations

from collections import Counter

from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from inventory.packing import FreeBars, Packed, pack

BARS = st.lists(
    st.builds(
        FreeBars, st.integers(0, 10**6), st.integers(5, 40), st.integers(1, 3), st.booleans()
    ),
    max_size=4,
    unique_by=lambda bar: bar.key,
)
PIECES = st.lists(st.integers(1, 30), max_size=10)


def fits(pieces: list[int], bars: list[FreeBars[int]], kerf: int, trim: int) -> bool:
    """Return whether all pieces can be sawn, by a model that shares nothing with ours."""
    each = [bar.length_ticks for bar in bars for _ in range(bar.count)]
    model = cp_model.CpModel()
    put = {(p, b): model.new_bool_var("") for p in range(len(pieces)) for b in range(len(each))}
    for p in range(len(pieces)):
        model.add_exactly_one(put[p, b] for b in range(len(each)))
    for b, length in enumerate(each):
        used = sum((pieces[p] + kerf) * put[p, b] for p in range(len(pieces)))
        model.add(used <= max(0, length - trim + kerf))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)


def check(
    packed: Packed[int], pieces: list[int], bars: list[FreeBars[int]], kerf: int, trim: int
) -> None:
    length = {bar.key: bar.length_ticks for bar in bars}
    count = {bar.key: bar.count for bar in bars}
    used = Counter(key for key, _ in packed.bars)
    assert all(number <= count[key] for key, number in used.items())
    for key, found in packed.bars:
        assert found
        need = trim + sum(pieces[at] for at in found) + kerf * (len(found) - 1)
        assert need <= length[key]
    everywhere = sorted([*packed.unmet, *(at for _, found in packed.bars for at in found)])
    assert everywhere == list(range(len(pieces)))


@given(PIECES, BARS, st.integers(0, 2), st.integers(0, 3))
def test_every_packing_can_be_sawn(
    pieces: list[int], bars: list[FreeBars[int]], kerf: int, trim: int
) -> None:
    check(pack(pieces, bars, kerf=kerf, end_trim=trim), pieces, bars, kerf, trim)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(3, 20), min_size=1, max_size=7), BARS, st.integers(0, 2))
def test_what_is_packed_whole_is_possible_and_single_pieces_are_never_missed(
    pieces: list[int], bars: list[FreeBars[int]], kerf: int
) -> None:
    packed = pack(pieces, bars, kerf=kerf, end_trim=1)
    if not packed.unmet:
        assert fits(pieces, bars, kerf, 1)
    one = pieces[:1]
    assert (not pack(one, bars, kerf=kerf, end_trim=1).unmet) == fits(one, bars, kerf, 1)


def test_the_second_rule_finds_what_first_fit_misses() -> None:
    """First fit decreasing puts 9 + 2 into 13 and 8 + 5 into 16; 8 + 5 and 9 + 5 + 2 fit."""
    bars = [FreeBars("a", 13, 1), FreeBars("b", 16, 1)]
    packed = pack([8, 5, 9, 5, 2], bars, kerf=0, end_trim=0)
    assert packed.bars == (("a", (1, 0)), ("b", (4, 3, 2)))
    assert packed.unmet == ()


def test_offcuts_come_first_and_nothing_fits_into_nothing() -> None:
    bars = [FreeBars("full", 10, 1), FreeBars("end", 30, 1, True)]
    assert pack([5], bars, kerf=1, end_trim=0).bars == (("end", (0,)),)
    assert pack([5], [], kerf=1, end_trim=0).unmet == (0,)
    assert pack([5], [FreeBars("x", 5, 1)], kerf=3, end_trim=1).unmet == (0,)
