"""Names and order of bars: due dates, groups, offcuts first; tickets with every cut position."""

from __future__ import annotations

from collections import Counter
from datetime import date

import pytest
from hypothesis import given, settings

from contractor.engine.cutting import Bar, CutPlan, Instance, Item, Stock, read_instance, solve
from contractor.engine.cutting.polish import polish, score
from contractor.engine.cutting.problem import Cuts, Pattern, reduce_instance
from contractor.engine.cutting.tickets import cut_list
from tests.engine.cutting.instances import Document, documents, plan_for


def test_bars_with_early_pieces_are_sawn_first() -> None:
    items = (
        Item("late", 50, 2, due=date(2030, 6, 1)),
        Item("soon", 50, 2, due=date(2030, 5, 1)),
        Item("any", 50, 2),
    )
    plan = solve(Instance((Stock("bar", 100, 1),), items))
    assert [bar.pieces for bar in plan.bars] == [(("soon", 2),), (("late", 2),), (("any", 2),)]


def test_pieces_of_one_job_share_bars_where_lengths_allow() -> None:
    items = tuple(
        Item(f"{job}-{kind}", length, 2, group=job)
        for job in ("north", "south", "east")
        for kind, length in (("long", 60), ("short", 40))
    )
    plan = solve(Instance((Stock("bar", 100, 1),), items))
    assert plan.cost == 6
    for bar in plan.bars:
        assert len({key.split("-")[0] for key, _ in bar.pieces}) == 1


def test_of_bars_alike_in_length_and_cost_the_offcut_goes_first() -> None:
    stock = (Stock("new", 100, 7), Stock("old", 100, 7, supply=1, is_offcut=True))
    plan = solve(Instance(stock, (Item("a", 60, 2),)))
    assert Counter(bar.stock for bar in plan.bars) == {"new": 1, "old": 1}


def test_leftovers_are_gathered_into_one_long_one() -> None:
    """Two bars, pieces 30 30 30 30: 90 + 30 leaves 70 in one piece, 60 + 60 leaves 40 twice."""
    instance = Instance((Stock("bar", 100, 1),), (Item("a", 30, 4),), min_offcut=20)
    problem = reduce_instance(instance).problem
    even: Cuts = {Pattern(0, ((0, 2),)): 2}
    better = polish(problem, even, instance, seed=1)
    assert better == {Pattern(0, ((0, 3),)): 1, Pattern(0, ((0, 1),)): 1}
    assert score(problem, better, instance) < score(problem, even, instance)


def test_two_bars_are_cut_alike_where_pieces_share_out_evenly() -> None:
    instance = Instance((Stock("bar", 100, 1),), (Item("a", 30, 4), Item("b", 20, 4)))
    problem = reduce_instance(instance).problem
    uneven: Cuts = {Pattern(0, ((0, 2), (1, 1))): 1, Pattern(0, ((0, 2), (1, 3))): 1}
    assert polish(problem, uneven, instance, seed=1) == {Pattern(0, ((0, 2), (1, 2))): 2}


@settings(max_examples=40, deadline=None)
@given(documents())
def test_polishing_keeps_bars_and_pieces(document: Document) -> None:
    instance = read_instance(document)
    problem = reduce_instance(instance).problem
    plan = plan_for(document, seconds=5)
    cuts = Counter[Pattern]()
    size_of = {item.id: problem.widths.index(instance.width(item)) for item in instance.items}
    kinds = [(bar.capacity, bar.cost) for bar in problem.bars]
    stock = {one.id: (instance.capacity(one), one.cost) for one in instance.stock}
    for bar in plan.bars:
        held = Counter[int]()
        for key, number in bar.pieces:
            held[size_of[key]] += number
        cuts[Pattern(kinds.index(stock[bar.stock]), tuple(sorted(held.items())))] += bar.count
    better = polish(problem, dict(cuts), instance, seed=2)
    assert problem.covers(better)
    assert problem.cost(better) == plan.cost
    assert score(problem, better, instance) <= score(problem, dict(cuts), instance)


def test_a_ticket_gives_every_cut_with_its_kerf() -> None:
    """Bar 1000, trim 10, kerf 3, pieces 400 and 300: 10-400-kerf-300, offcut 284 (common
    practice: trim the raw end first, longest piece first).
    """
    instance = Instance(
        (Stock("bar", 1000, 9),),
        (Item("a", 400, 1, due=date(2030, 5, 1), group="north"), Item("b", 300, 1)),
        kerf=3,
        end_trim=10,
        min_offcut=100,
    )
    (ticket,) = cut_list(solve(instance), instance)
    assert ticket.trim_cut_at == 7
    assert [(p.start, p.end, p.cut_at) for p in ticket.pieces] == [(10, 410, 410), (413, 713, 713)]
    assert (ticket.left, ticket.is_kept) == (284, True)
    assert ticket.pieces[0].label == "1.1 · a · north · due 2030-05-01"
    assert ticket.offcut_label == "offcut of bar, bar 1"


def test_a_clean_end_needs_no_cut() -> None:
    instance = Instance((Stock("bar", 203, 9),), (Item("a", 100, 2),), kerf=3)
    (ticket,) = cut_list(solve(instance), instance)
    assert [p.cut_at for p in ticket.pieces] == [100, None]
    assert (ticket.left, ticket.trim_cut_at) == (0, None)


@settings(max_examples=40, deadline=None)
@given(documents())
def test_tickets_stay_inside_the_bar_and_hold_the_plan(document: Document) -> None:
    instance = read_instance(document)
    plan = plan_for(document, seconds=5)
    tickets = cut_list(plan, instance)
    held = Counter[str]()
    for ticket in tickets:
        held.update({piece.item: 0 for piece in ticket.pieces})
        for piece in ticket.pieces:
            held[piece.item] += ticket.bars
        last = ticket.pieces[-1]
        assert last.end <= ticket.stock_length
        if ticket.left:
            assert last.end + instance.kerf + ticket.left == ticket.stock_length
    assert held == Counter({item.id: item.demand for item in instance.items if item.demand})


def test_an_unknown_piece_on_a_plan_is_a_key_error() -> None:
    instance = Instance((Stock("bar", 100, 1),), (Item("a", 10, 1),))
    plan = CutPlan((Bar("bar", 1, (("x", 1),), 90, False),), 1, 1, True)
    with pytest.raises(KeyError):
        cut_list(plan, instance)
