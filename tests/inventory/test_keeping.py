"""One re-measured piece among many: tickets stay, at no higher cost than a plan from scratch."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest

from contractor.api.models import Branch
from contractor.engine.cutting import CutPlan, plan_document
from contractor.engine.cutting.check import check_plan
from contractor.engine.cutting.model import Bar
from inventory import computing, services
from inventory.amounts import Delivery, Need
from inventory.cutlists import gather, stock_id, unsawn_bars
from inventory.keeping import still_good
from inventory.models import CuttingPlan, Kit, Part
from inventory.queries import stock_faults
from tests.inventory.conftest import AT, FT


@pytest.fixture
def big(branch: Branch, beam: Part) -> CuttingPlan:
    """24 beams of 7 to 9 ft, each with its mark, out of 20 ft and 40 ft bars."""
    goods = [
        Delivery(beam.pk, 16_020 * 16, quantity=16, length_ticks=20 * FT),
        Delivery(beam.pk, 30_110 * 8, quantity=8, length_ticks=40 * FT),
    ]
    services.receive(branch.pk, goods, at=AT)
    random = Random(7)
    needs = [Need(beam.pk, 1, random.randrange(7 * FT, 9 * FT, 4), f"B{n}") for n in range(24)]
    kit = services.create_kit(branch.pk, "J-9", needs)
    (plan,) = services.plan_cuts([kit.pk], at=AT, seconds=3)
    return plan


def remeasure(mark: str, by: int) -> Kit:
    """A beam comes out ``by`` ticks longer than planned; return its kit."""
    kit = Kit.objects.get()
    line = kit.lines.get(mark=mark)
    services.remeasure(kit.pk, line.pk, line.length_ticks + by, at=AT)
    return kit


def changed_after(plan: CuttingPlan, branch: Branch) -> tuple[int, int]:
    before = {bar.pk for bar in unsawn_bars(plan)}
    services.replan_cuts(plan.pk, at=AT, seconds=3)
    after = {bar.pk for bar in unsawn_bars(plan)}
    assert stock_faults(branch.pk) == []
    return len(before - after), len(after)


def test_a_shorter_piece_changes_one_bar(big: CuttingPlan, branch: Branch) -> None:
    remeasure("B5", -8)
    changed, bars = changed_after(big, branch)
    assert changed == 1 < bars


def test_keeping_never_costs_more_and_passes_the_check(
    big: CuttingPlan, branch: Branch, beam: Part
) -> None:
    kit = remeasure("B11", 200)
    inputs = gather(branch.pk, beam, [kit.pk], big)
    solve_it = computing.solver(3, 1)
    fresh = solve_it(inputs.document())
    found = solve_it(inputs.document(), still_good(inputs, unsawn_bars(big)))
    assert found.cost <= fresh.cost
    assert check_plan(inputs.document(), plan_document(found)) == []
    changed, bars = changed_after(big, branch)
    assert changed <= bars


def test_a_bar_with_a_remeasured_piece_gets_a_new_ticket_even_where_the_piece_fits(
    big: CuttingPlan, branch: Branch, beam: Part
) -> None:
    kit = Kit.objects.get()
    line = kit.lines.get(mark="B5")
    services.remeasure(kit.pk, line.pk, line.length_ticks - 8, at=AT)
    inputs = gather(branch.pk, beam, [kit.pk], big)
    rows = unsawn_bars(big)
    kept = still_good(inputs, rows)
    assert len(kept.bars) == len(rows) - 1
    assert all(str(line.pk) != key for bar in kept.bars for key, _ in bar.pieces)


def test_tickets_that_became_dear_are_not_kept(
    big: CuttingPlan, branch: Branch, beam: Part
) -> None:
    """One piece per bar is a plan, but a dear one: keeping it whole would cost twice as much."""
    inputs = gather(branch.pk, beam, [Kit.objects.get().pk], big)
    long = next(bar for bar in inputs.bars if bar.length_ticks == 20 * FT)
    single = [
        Bar(stock_id(long.place), 1, ((str(one.line_pk), 1),), 0, False)
        for one in inputs.wanted[: long.count]
    ]
    solve_it = computing.solver(3, 1)
    found = solve_it(inputs.document(), CutPlan(tuple(single), 0, 0, False))
    assert found.cost == solve_it(inputs.document()).cost
    assert check_plan(inputs.document(), plan_document(found)) == []


def test_what_a_replan_may_cost_more_is_the_companys_choice(
    big: CuttingPlan, branch: Branch, monkeypatch: pytest.MonkeyPatch
) -> None:
    remeasure("B11", 200)
    branch.company.settings = {"cutting": {"replan_extra_percent": 2.5}}
    branch.company.save()
    allowed: list[float] = []

    def solver(seconds: float, seed: int, tolerance: float = 0.0) -> computing.Solver:
        allowed.append(tolerance)
        return computing.solver(seconds, seed, tolerance)

    monkeypatch.setattr("inventory.services.replanning.solver", solver)
    changed_after(big, branch)
    assert allowed == [0.025]


def test_dearer_plans_within_the_allowance_change_no_more_bars(
    big: CuttingPlan, branch: Branch, beam: Part
) -> None:
    kit = remeasure("B11", 200)
    inputs = gather(branch.pk, beam, [kit.pk], big)
    before = still_good(inputs, unsawn_bars(big))
    cheapest = computing.solver(3, 1)(inputs.document(), before)
    calmest = computing.solver(3, 1, 0.1)(inputs.document(), before)
    assert calmest.cost <= cheapest.cost * 1.1
    assert _kept(before, calmest) >= _kept(before, cheapest)


def _kept(before: CutPlan, after: CutPlan) -> int:
    return (_bars(before) & _bars(after)).total()


def _bars(plan: CutPlan) -> Counter[tuple[str, object]]:
    bars: Counter[tuple[str, object]] = Counter()
    for bar in plan.bars:
        bars[bar.stock, tuple(sorted(bar.pieces))] += bar.count
    return bars
