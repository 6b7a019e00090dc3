from __future__ import annotations

from datetime import date

import pytest

from contractor.api.models import Branch
from inventory import services
from inventory.allocation import LEVEL
from inventory.amounts import Need
from inventory.models import Part, StockLevel, Supplier
from inventory.promising import Promise, Rank, promise, whole
from inventory.reallocation import proposals
from tests.inventory.conftest import AT, FT, kit_of

TODAY = date(2026, 3, 2)


def asked(branch: Branch, *needs: Need, rank: Rank | None = None) -> list[Promise]:
    parts = Part.objects.in_bulk()
    return promise(branch, needs, parts, on=TODAY, rank=rank or Rank())


@pytest.fixture
def coming(stocked: Branch, supplier: Supplier, beam: Part, bolt: Part) -> Branch:
    """50 bolts on the 10th, 50 on the 20th, one 20 ft bar on the 12th."""
    items = [
        services.OrderItem(bolt.pk, 6_500, packs=1, promised_on=date(2026, 3, 10)),
        services.OrderItem(bolt.pk, 6_500, packs=1, promised_on=date(2026, 3, 20)),
        services.OrderItem(beam.pk, 16_020, 1, 0, 20 * FT, date(2026, 3, 12)),
    ]
    services.place_order(services.order(stocked.pk, supplier.pk, items).pk, at=AT)
    return stocked


def test_from_stock_today_from_orders_later(coming: Branch, bolt: Part) -> None:
    days = {
        quantity: asked(coming, Need(bolt.pk, quantity))[0] for quantity in (100, 101, 151, 201)
    }
    assert [(one.on, one.source) for one in days.values()] == [
        (date(2026, 3, 2), "stock"),
        (date(2026, 3, 10), "order"),
        (date(2026, 3, 20), "order"),
        (date(2026, 3, 7), "lead_time"),  # nothing on order suffices: five days from today
    ]
    assert [one.available for one in days.values()] == [100, 100, 100, 100]


def test_the_whole_bill_waits_for_its_last_line(coming: Branch, beam: Part, bolt: Part) -> None:
    lines = asked(coming, Need(bolt.pk, 101), Need(beam.pk, 4, 12 * FT), Need(bolt.pk, 1))
    assert [one.on for one in lines] == [
        date(2026, 3, 10),
        date(2026, 3, 12),
        date(2026, 3, 10),
    ]
    assert whole(lines) == date(2026, 3, 12)
    assert lines[1].available == 3


def test_reserved_stock_is_not_promised(coming: Branch, bolt: Part) -> None:
    services.reserve(coming.pk, [Need(bolt.pk, 90)], at=AT)
    (one,) = asked(coming, Need(bolt.pk, 11))
    assert (one.on, one.available) == (date(2026, 3, 10), 10)


def test_those_who_come_first_are_served_first(coming: Branch, beam: Part, bolt: Part) -> None:
    kit_of(coming, Need(bolt.pk, 60), Need(beam.pk, 3, 12 * FT), reference="severe", priority=3)
    mine = [Need(bolt.pk, 60), Need(beam.pk, 1, 12 * FT)]
    low = asked(coming, *mine, rank=Rank(2))
    assert [one.on for one in low] == [date(2026, 3, 10), date(2026, 3, 12)]
    high = asked(coming, *mine, rank=Rank(4))
    assert [one.on for one in high] == [TODAY, TODAY]


def test_of_equals_the_earlier_day_comes_first() -> None:
    rank = Rank(2, date(2026, 4, 1))
    assert rank.is_before(2, date(2026, 3, 31))
    assert not rank.is_before(2, date(2026, 4, 1))
    assert not rank.is_before(2, None)
    assert not rank.is_before(1, date(2026, 1, 1))


def test_a_broken_promise_counts_for_tomorrow(
    stocked: Branch, supplier: Supplier, bolt: Part
) -> None:
    item = services.OrderItem(bolt.pk, 6_500, packs=1, promised_on=date(2026, 2, 20))
    services.place_order(services.order(stocked.pk, supplier.pk, [item]).pk, at=AT)
    assert asked(stocked, Need(bolt.pk, 101))[0].on == date(2026, 3, 3)


def test_a_changed_promise_moves_the_day(coming: Branch, supplier: Supplier, bolt: Part) -> None:
    order = supplier.orders.get()
    line = order.lines.order_by("pk")[0]
    services.change_promise(order.pk, line.pk, date(2026, 3, 15))
    assert asked(coming, Need(bolt.pk, 101))[0].on == date(2026, 3, 15)
    services.change_promise(order.pk, line.pk, None)
    assert asked(coming, Need(bolt.pk, 101))[0].on == date(2026, 3, 20)


def test_goods_in_transit_are_on_their_way(
    stocked: Branch, other_branch: Branch, bolt: Part
) -> None:
    parcel = services.Parcel((LEVEL, StockLevel.objects.get().pk), 40)
    services.transfer_out(
        stocked.pk, other_branch.pk, [parcel], at=AT, expected_on=date(2026, 3, 5)
    )
    (one,) = asked(other_branch, Need(bolt.pk, 40))
    assert (one.on, one.source, one.available) == (date(2026, 3, 5), "transfer", 0)


def test_nothing_known_is_no_day(stocked: Branch, sealant: Part) -> None:
    (one,) = asked(stocked, Need(sealant.pk, 1))
    assert (one.on, one.source) == (None, "none")
    assert whole([one]) is None


def test_who_gives_what_until_when(coming: Branch, beam: Part, bolt: Part) -> None:
    calm = kit_of(coming, Need(bolt.pk, 60), reference="calm", priority=1)
    late = kit_of(coming, Need(bolt.pk, 30), reference="late", priority=2)
    for kit in (calm, late):
        services.reserve_kit(kit.pk, at=AT)
    severe = kit_of(coming, Need(bolt.pk, 50), reference="severe", priority=4)
    (one,) = proposals(severe, on=TODAY)
    assert (one.kit_pk, one.priority) == (calm.pk, 1)
    assert [(loss.part_pk, loss.quantity) for loss in one.losses] == [(bolt.pk, 60)]
    # 100 - 30 held by "late" - 50 for "severe" leave 20; 50 more come on the 10th
    assert one.until == date(2026, 3, 10)
    services.take_over(severe.pk, [one.kit_pk], at=AT)


def test_bars_are_given_too(coming: Branch, beam: Part) -> None:
    calm = kit_of(coming, Need(beam.pk, 2, 12 * FT), reference="calm", priority=1)
    services.reserve_kit(calm.pk, at=AT)
    severe = kit_of(coming, Need(beam.pk, 2, 11 * FT), reference="severe", priority=4)
    (one,) = proposals(severe, on=TODAY)
    assert (one.kit_pk, one.losses[0].quantity, one.until) == (calm.pk, 2, date(2026, 3, 12))


def test_nobody_gives_who_need_not(coming: Branch, bolt: Part) -> None:
    for reference, count in (("one", 10), ("two", 60), ("three", 30)):
        kit = kit_of(coming, Need(bolt.pk, count), reference=reference, priority=1)
        services.reserve_kit(kit.pk, at=AT)
    severe = kit_of(coming, Need(bolt.pk, 55), reference="severe", priority=4)
    assert [one.losses[0].quantity for one in proposals(severe, on=TODAY)] == [60]
    hopeless = kit_of(coming, Need(bolt.pk, 101), reference="hopeless", priority=4)
    assert proposals(hopeless, on=TODAY) == []
    fine = kit_of(coming, Need(bolt.pk, 1), reference="fine", priority=1)
    assert proposals(fine, on=TODAY) == []
