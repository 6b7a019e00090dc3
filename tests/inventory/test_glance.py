"""The quick look of a reservation finds exactly what the long way finds."""

from __future__ import annotations

from datetime import date

import pytest

from contractor.api.models import Branch
from inventory import services
from inventory.allocation import choose
from inventory.amounts import Delivery, Need
from inventory.glance import glance
from inventory.models import Part
from tests.inventory.conftest import AT, FT


@pytest.fixture
def mixed(stocked: Branch, sealant: Part) -> Branch:
    goods = [
        Delivery(sealant.pk, 1, quantity=5, lot_number="L", expires_on=date(2026, 12, 1)),
        Delivery(sealant.pk, 1, quantity=2, lot_number="S", expires_on=date(2026, 3, 2)),
        Delivery(sealant.pk, 1, quantity=9, lot_number="G", expires_on=date(2026, 3, 1)),
    ]
    services.receive(stocked.pk, goods, at=AT)
    services.reserve(stocked.pk, [Need(sealant.pk, 1)], at=AT)
    return stocked


@pytest.mark.parametrize("counts", [(1, 1), (5, 100), (6, 3), (2, 40)])
def test_both_ways_agree(mixed: Branch, sealant: Part, bolt: Part, counts: tuple[int, int]) -> None:
    needs = [Need(sealant.pk, counts[0]), Need(bolt.pk, counts[1])]
    parts = {sealant.pk: sealant, bolt.pk: bolt}
    holds, short = choose(mixed, needs, parts, date(2026, 3, 2))
    seen = glance(mixed.pk, needs, AT)
    assert seen is not None and short == []
    assert seen.holds == holds
    assert (seen.branch.pk, seen.branch.company_id) == (mixed.pk, mixed.company_id)


def test_a_lot_that_lasts_for_ever_still_goes_before_what_has_no_date(
    stocked: Branch, sealant: Part
) -> None:
    goods = [
        Delivery(sealant.pk, 1, quantity=2),
        Delivery(sealant.pk, 1, quantity=2, lot_number="L", expires_on=date.max),
    ]
    services.receive(stocked.pk, goods, at=AT)
    needs = [Need(sealant.pk, 3)]
    seen = glance(stocked.pk, needs, AT)
    holds, _ = choose(stocked, needs, {sealant.pk: sealant}, date(2026, 3, 2))
    assert seen is not None and seen.holds == holds and len(holds) == 2


def test_what_is_out_of_the_ordinary_takes_the_long_way(
    mixed: Branch, foreign_branch: Branch, beam: Part, bolt: Part, sealant: Part
) -> None:
    for needs in (
        [],
        [Need(bolt.pk, 0)],
        [Need(bolt.pk, 101)],
        [Need(sealant.pk, 7)],  # nine more have expired the day before
        [Need(bolt.pk, 60), Need(bolt.pk, 41)],
        [Need(beam.pk, 1, 8 * FT)],
        [Need(beam.pk, 1)],
        [Need(10**9, 1)],
    ):
        assert glance(mixed.pk, needs, AT) is None
    assert glance(foreign_branch.pk, [Need(bolt.pk, 1)], AT) is None
