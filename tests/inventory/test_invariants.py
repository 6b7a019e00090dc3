"""Any sequence of what can happen in a warehouse leaves stock that adds up.

The suite walks a modest number of steps; with ``STOCK_STEPS=10000`` in the environment this test
walks at least so many.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count as counter
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from contractor.api.models import Branch, Company
from contractor.errors import DomainError
from inventory import services
from inventory.allocation import LENGTH, LEVEL, OFFCUT
from inventory.amounts import Delivery, Need
from inventory.models import (
    CutPiece,
    CutPlanBar,
    CuttingPlan,
    Kit,
    KitLine,
    Offcut,
    Part,
    Reservation,
    StockLength,
    StockLevel,
    Transfer,
)
from inventory.queries import stock_faults

FT = 12 * 64
STEPS = int(os.environ.get("STOCK_STEPS", "160"))
PER_RUN = 20
_names = counter()
PICK = st.integers(0, 10**6)
FEW = st.integers(1, 6)


UNDER_WAY = ("reserved", "pulling", "staged", "loaded")


def has(model: Any, **wanted: Any) -> bool:
    return bool(model.objects.filter(**wanted).exists())


class Warehouse(RuleBasedStateMachine):
    """Two branches, bolts and beams; every rule tries a service and may be refused."""

    def __init__(self) -> None:
        super().__init__()
        self.steps = 0
        self.at = datetime(2026, 1, 5, 12, tzinfo=UTC)
        # Not atomic(): services open durable transactions, which refuse to be nested.
        self.savepoint = transaction.savepoint()

    @initialize()
    def open(self) -> None:
        company = Company.objects.create(name=f"stateful {next(_names)}")
        self.branches = [
            Branch.objects.create(company=company, name=name) for name in ("north", "south")
        ]
        self.bolt = Part.objects.create(
            company=company, code="BOLT", description="bolt", kind="consumable", pack_size=10
        )
        self.beam = Part.objects.create(
            company=company, code="S4", description="beam", kind="bar", min_offcut_ticks=2 * FT
        )
        self.sawn: dict[int, tuple[Any, ...]] = {}
        for branch in self.branches:
            goods = [
                Delivery(self.bolt.pk, 5_431, quantity=40),
                Delivery(self.beam.pk, 64_077, quantity=4, length_ticks=20 * FT),
            ]
            services.receive(branch.pk, goods, at=self.at)

    def attempt(self, verb: Callable[[], object]) -> None:
        """Run ``verb``, which may be refused; remember which rule it was and how it went."""
        self.at += timedelta(minutes=1)
        rule_name = sys._getframe(1).f_code.co_name
        try:
            verb()
        except DomainError as refused:
            outcomes[rule_name, refused.code] += 1
        else:
            outcomes[rule_name, "done"] += 1

    def pick(self, rows: Any, number: int) -> Any:
        found = list(rows.order_by("pk"))
        return found[number % len(found)] if found else None

    @rule(
        branch=st.integers(0, 1),
        bolts=st.integers(-1, 30),
        bars=FEW,
        feet=st.sampled_from([8, 12, 20]),
    )
    def receive(self, branch: int, bolts: int, bars: int, feet: int) -> None:
        items = [
            Delivery(self.bolt.pk, max(0, bolts) * 137, quantity=bolts),
            Delivery(self.beam.pk, bars * feet * 801 + 1, quantity=bars, length_ticks=feet * FT),
        ]
        self.attempt(lambda: services.receive(self.branches[branch].pk, items, at=self.at))

    @rule(
        branch=st.integers(0, 1),
        bolts=st.integers(0, 20),
        pieces=st.integers(1, 3),
        inches=st.integers(20, 150),
    )
    def open_and_reserve(self, branch: int, bolts: int, pieces: int, inches: int) -> None:
        needs = [Need(self.beam.pk, pieces, inches * 64, "B")]
        needs += [Need(self.bolt.pk, bolts)] if bolts else []

        def verb() -> None:
            kit = services.create_kit(self.branches[branch].pk, "J", needs, priority=1 + bolts % 4)
            services.reserve_kit(kit.pk, at=self.at, expires_at=self.at + timedelta(minutes=30))

        self.attempt(verb)

    @rule(branch=st.integers(0, 1), bolts=st.integers(1, 20))
    def reserve(self, branch: int, bolts: int) -> None:
        needs = [Need(self.bolt.pk, bolts), Need(self.bolt.pk, 1)]
        self.attempt(lambda: services.reserve(self.branches[branch].pk, needs, at=self.at))

    @precondition(lambda self: has(Reservation, status="held"))
    @rule(number=PICK)
    def release(self, number: int) -> None:
        if held := self.pick(Reservation.objects.filter(status="held"), number):
            self.attempt(lambda: services.release(held.pk))

    @precondition(lambda self: has(Reservation, status="held"))
    @rule(number=PICK)
    def expire(self, number: int) -> None:
        if held := self.pick(Reservation.objects.filter(status="held"), number):
            self.attempt(lambda: services.expire(held.pk, at=self.at))

    @precondition(lambda self: has(Kit, status__in=("open", "reserved")))
    @rule(numbers=st.lists(PICK, min_size=1, max_size=3))
    def plan(self, numbers: list[int]) -> None:
        kits = Kit.objects.filter(
            branch=self.branches[numbers[0] % 2], status__in=("open", "reserved")
        )
        chosen = {self.pick(kits, number).pk for number in numbers if kits.exists()}
        if chosen:
            self.attempt(lambda: services.plan_cuts(sorted(chosen), at=self.at, seconds=1))

    @precondition(lambda self: has(CuttingPlan, status="draft"))
    @rule(number=PICK)
    def cancel_plan(self, number: int) -> None:
        if plan := self.pick(CuttingPlan.objects.filter(status="draft"), number):
            self.attempt(lambda: services.cancel_plan(plan.pk, at=self.at))

    @precondition(lambda self: has(Kit, status__in=("open", "reserved", "pulling")))
    @rule(number=PICK, goes_wrong=st.booleans())
    def saw(self, number: int, goes_wrong: bool) -> None:
        if not CutPlanBar.objects.filter(status="planned").exists():
            self.plan([number])
        bar = self.pick(CutPlanBar.objects.filter(status="planned"), number)
        if bar is None:
            return
        bad = {bar.pieces.order_by("pk")[0].pk: "slipped"} if goes_wrong else {}
        self.attempt(lambda: services.record_sawn(bar.pk, at=self.at, mis_cut=bad))

    @precondition(lambda self: has(CutPiece, status="sawn"))
    @rule(number=PICK, kept=st.integers(0, 100))
    def lose(self, number: int, kept: int) -> None:
        piece = self.pick(CutPiece.objects.filter(status="sawn"), number)
        if piece is not None:
            actual = piece.length_ticks * kept // 100
            self.attempt(
                lambda: services.record_mis_cut(
                    piece.pk, reason="bent", at=self.at, actual_ticks=actual
                )
            )

    @precondition(lambda self: has(Kit, status__in=("open", "reserved", "pulling")))
    @rule(number=PICK, inches=st.integers(20, 150), many=st.integers(1, 3))
    def remeasure(self, number: int, inches: int, many: int) -> None:
        kit = self.pick(Kit.objects.filter(status__in=("open", "reserved", "pulling")), number)
        line = kit and kit.lines.filter(part=self.beam).order_by("pk").last()
        if line:
            self.attempt(
                lambda: services.remeasure(kit.pk, line.pk, inches * 64, at=self.at, count=many)
            )

    @precondition(lambda self: has(CuttingPlan, needs_replan=True))
    @rule(number=PICK)
    def replan(self, number: int) -> None:
        plan = self.pick(CuttingPlan.objects.filter(needs_replan=True), number)
        if plan is not None:
            self._remember_sawn()
            self.attempt(lambda: services.replan_cuts(plan.pk, at=self.at, seconds=1))

    @rule(number=PICK, table=st.sampled_from([LEVEL, LENGTH, OFFCUT]), found=st.integers(-1, 12))
    def count(self, number: int, table: int, found: int) -> None:
        row = self.pick((StockLevel, StockLength, Offcut)[table].objects.all(), number)
        if row is not None:
            self.attempt(lambda: services.count((table, row.pk), found, reason="count", at=self.at))

    @rule(number=PICK, table=st.sampled_from([LEVEL, LENGTH, OFFCUT]), many=FEW)
    def send(self, number: int, table: int, many: int) -> None:
        row = self.pick((StockLevel, StockLength, Offcut)[table].objects.all(), number)
        if row is None:
            return
        here, there = sorted(self.branches, key=lambda one: one.pk != row.branch_id)
        parcel = services.Parcel((table, row.pk), 1 if table == OFFCUT else many)
        self.attempt(lambda: services.transfer_out(here.pk, there.pk, [parcel], at=self.at))

    @precondition(lambda self: has(Transfer, status="in_transit"))
    @rule(number=PICK, missing=st.integers(0, 2))
    def arrive(self, number: int, missing: int) -> None:
        transfer = self.pick(Transfer.objects.filter(status="in_transit"), number)
        if transfer is not None:
            arrived = {line.pk: max(0, line.quantity - missing) for line in transfer.lines.all()}
            self.attempt(
                lambda: services.transfer_in(
                    transfer.pk, at=self.at, arrived=arrived, reason="box burst"
                )
            )

    @precondition(lambda self: has(Kit, status__in=UNDER_WAY))
    @rule(number=PICK, goes_back=st.booleans())
    def work_on_kit(self, number: int, goes_back: bool) -> None:
        kit = self.pick(Kit.objects.filter(status__in=UNDER_WAY), number)
        if kit is not None:
            self.attempt(lambda: self._move_kit(kit, goes_back))

    def _move_kit(self, kit: Kit, goes_back: bool) -> None:
        lines = list(kit.lines.select_related("part").order_by("pk"))
        if kit.status == "reserved":
            services.start_pulling(kit.pk)
            for line in lines:
                if ready := (line.cut if line.part.is_bar else line.wanted):
                    services.pull(kit.pk, line.pk, ready)
        elif kit.status == "loaded":
            back = {line.pk: 1 for line in lines if line.pulled}
            bent = {line.pk: 1 for line in lines if line.pulled > 1 and goes_back}
            why = "bent on site" if bent else ""
            services.return_kit(kit.pk, back, at=self.at, scrapped=bent, reason=why)
        elif goes_back:
            services.put_back(kit.pk)
        elif kit.status == "staged":
            services.load(kit.pk, at=self.at)
        else:
            for line in lines:
                if line.wanted:
                    services.short(kit.pk, line.pk, line.wanted, reason="none left")
            services.stage(kit.pk)

    def _remember_sawn(self) -> None:
        rows = CutPlanBar.objects.filter(status="sawn").order_by("pk")
        self.sawn |= {row.pk: _facts(row) for row in rows}

    @precondition(lambda self: hasattr(self, "branches"))
    @invariant()
    def it_adds_up(self) -> None:
        global walked
        walked += 1
        for branch in self.branches:
            assert stock_faults(branch.pk) == []

    @invariant()
    def a_settled_kit_is_split_whole(self) -> None:
        for line in KitLine.objects.filter(kit__status="returned"):
            assert line.used + line.returned + line.scrapped == line.pulled

    @precondition(lambda self: hasattr(self, "sawn"))
    @invariant()
    def a_sawn_bar_is_never_touched(self) -> None:
        for pk, facts in self.sawn.items():
            assert _facts(CutPlanBar.objects.get(pk=pk)) == facts

    def teardown(self) -> None:
        transaction.savepoint_rollback(self.savepoint)


walked = 0
outcomes: Counter[tuple[str, str]] = Counter()


def _facts(row: CutPlanBar) -> tuple[Any, ...]:
    pieces = row.pieces.order_by("pk").values_list("pk", "kit_line", "length_ticks", "position")
    return row.number, row.place.pk, row.length_ticks, row.left_ticks, row.sawn_at, tuple(pieces)


@pytest.mark.django_db
def test_every_sequence_of_events_adds_up() -> None:
    global walked
    walked = 0
    outcomes.clear()
    run_state_machine_as_test(
        Warehouse,
        settings=settings(
            max_examples=max(1, STEPS // PER_RUN),
            stateful_step_count=PER_RUN,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            database=None,
            derandomize=True,
        ),
    )
    assert walked >= STEPS // 2
    if report := os.environ.get("STOCK_REPORT"):
        lines = [f"{walked} states walked", *(f"{n} {k}" for k, n in outcomes.most_common())]
        Path(report).write_text("\n".join(lines))
    done = {name for name, outcome in outcomes if outcome == "done"}
    assert done >= {"open_and_reserve", "plan", "saw", "count"}
    assert connection.needs_rollback is False
