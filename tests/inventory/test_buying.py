from __future__ import annotations

import math
import statistics
from datetime import date, timedelta

import pytest
import scipy.stats

from contractor.api.models import Branch, Company
from contractor.errors import InvalidValueError
from inventory import services
from inventory.allocation import LEVEL
from inventory.amounts import Delivery, Need
from inventory.buying import SERVICE_Z, order_suggestions, reorder_points
from inventory.models import Part, StockLevel, Supplier, SupplierPart
from tests.inventory.conftest import AT, FT, kit_of

TODAY = date(2026, 3, 2)


def test_open_kits_are_bought_for_in_whole_packs(
    stocked: Branch, supplier: Supplier, beam: Part, bolt: Part
) -> None:
    kit_of(stocked, Need(bolt.pk, 170), Need(beam.pk, 8, 9 * FT))
    (order,) = order_suggestions(stocked, on=TODAY)
    assert [(one.part_pk, one.length_ticks, one.packs, one.quantity) for one in order.lines] == [
        (beam.pk, 40 * FT, 1, 1),  # six pieces come out of stock, two out of a new bar
        (bolt.pk, 0, 2, 100),  # 70 short: two boxes of 50
    ]
    assert (order.cents, order.missing_cents) == (30_110 + 13_000, 0)
    assert order.arrives_on == date(2026, 3, 11)
    assert order.lines[1].because == "open kits are short 70"


def test_the_reorder_point_counts_what_is_on_order(
    stocked: Branch, supplier: Supplier, bolt: Part
) -> None:
    services.set_reorder_rule(branch=stocked, part=bolt, point=120, order_up_to=300)
    (order,) = order_suggestions(stocked, on=TODAY)
    assert (order.lines[0].packs, order.lines[0].because) == (
        4,
        "100 against a reorder point of 120",
    )
    item = services.OrderItem(bolt.pk, 6_500, packs=1, promised_on=date(2026, 3, 20))
    services.place_order(services.order(stocked.pk, supplier.pk, [item]).pk, at=AT)
    assert order_suggestions(stocked, on=TODAY) == []


def test_the_cheaper_supplier_and_its_minimum(
    stocked: Branch, company: Company, supplier: Supplier, bolt: Part
) -> None:
    rival = Supplier.objects.create(company=company, name="Rival", minimum_order_cents=50_000)
    SupplierPart.objects.create(
        supplier=rival, part=bolt, pack_size=100, pack_cents=9_000, minimum_packs=2
    )
    kit_of(stocked, Need(bolt.pk, 260))
    (order,) = order_suggestions(stocked, on=TODAY)
    assert (order.supplier_pk, order.lines[0].packs) == (rival.pk, 2)  # 18,000 against 26,000
    assert (order.cents, order.missing_cents) == (18_000, 32_000)


def test_what_nobody_sells_is_not_suggested(stocked: Branch, sealant: Part) -> None:
    kit_of(stocked, Need(sealant.pk, 3))
    assert order_suggestions(stocked, on=TODAY) == []


def test_bars_below_their_point(stocked: Branch, supplier: Supplier, beam: Part) -> None:
    services.set_reorder_rule(
        branch=stocked, part=beam, length_ticks=40 * FT, point=2, order_up_to=5
    )
    (order,) = order_suggestions(stocked, on=TODAY)
    assert (order.lines[0].length_ticks, order.lines[0].quantity) == (40 * FT, 5)


def test_a_rule_that_never_ends_is_refused(stocked: Branch, bolt: Part) -> None:
    with pytest.raises(InvalidValueError):
        services.set_reorder_rule(branch=stocked, part=bolt, point=5, order_up_to=4)


def test_reorder_points_follow_use_and_lead_time(
    branch: Branch, supplier: Supplier, bolt: Part
) -> None:
    """Against the definition, with scipy's normal quantile and the statistics module."""
    services.receive(branch.pk, [Delivery(bolt.pk, 1, quantity=1000)], at=AT - timedelta(days=60))
    level = (LEVEL, StockLevel.objects.get().pk)
    kit = kit_of(branch, Need(bolt.pk, 270))
    services.reserve_kit(kit.pk, at=AT)
    services.start_pulling(kit.pk)
    services.pull(kit.pk, kit.lines.get().pk, 270)
    services.stage(kit.pk)
    services.load(kit.pk, at=AT - timedelta(days=1))
    services.adjust(level, -5, reason="lost", at=AT)  # no use: it does not count
    (point,) = reorder_points(branch, on=TODAY, window_days=90)
    daily = [270.0] + [0.0] * 89
    safety = math.ceil(SERVICE_Z * statistics.stdev(daily) * math.sqrt(5))
    assert math.isclose(SERVICE_Z, scipy.stats.norm.ppf(0.95), abs_tol=5e-4)
    assert (point.use_per_day, point.lead_days) == (3.0, 5)
    assert (point.safety, point.point) == (safety, 15 + safety)
