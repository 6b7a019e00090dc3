from __future__ import annotations

import pytest

from contractor.api.models import Branch
from contractor.errors import InvalidValueError, NotFoundError, WrongStateError
from inventory import services
from inventory.allocation import LENGTH, LEVEL, OFFCUT
from inventory.amounts import Need
from inventory.errors import InsufficientStockError
from inventory.models import Balance, LedgerEntry, Offcut, Part, StockLength, StockLevel
from inventory.queries import stock_faults
from tests.inventory.conftest import AT, FT, written


def cents_of(branch: Branch) -> int:
    return sum(Balance.objects.filter(branch=branch).values_list("cents", flat=True))


def test_goods_leave_at_once_and_arrive_later_at_their_value(
    stocked: Branch, other_branch: Branch, beam: Part, bolt: Part
) -> None:
    level, bars = StockLevel.objects.get(), StockLength.objects.get()
    parcels = [services.Parcel((LEVEL, level.pk), 30), services.Parcel((LENGTH, bars.pk), 1)]
    sent = services.transfer_out(stocked.pk, other_branch.pk, parcels, at=AT)
    assert cents_of(stocked) == 61_060 - 3_900 - 16_020
    assert cents_of(other_branch) == 0
    assert sum(sent.lines.values_list("cents", flat=True)) == 19_920
    services.transfer_in(sent.pk, at=AT)
    assert cents_of(other_branch) == 19_920
    assert StockLevel.objects.get(branch=other_branch).on_hand == 30
    with pytest.raises(WrongStateError):
        services.transfer_in(sent.pk, at=AT)
    assert stock_faults(stocked.pk) == stock_faults(other_branch.pk) == []


def test_what_is_missing_on_arrival_is_posted_as_lost(
    stocked: Branch, other_branch: Branch, bolt: Part
) -> None:
    parcel = services.Parcel((LEVEL, StockLevel.objects.get().pk), 30)
    sent = services.transfer_out(stocked.pk, other_branch.pk, [parcel], at=AT)
    line = sent.lines.get()
    with pytest.raises(InvalidValueError, match="Goods are missing"):
        services.transfer_in(sent.pk, at=AT, arrived={line.pk: 28})
    services.transfer_in(sent.pk, at=AT, arrived={line.pk: 28}, reason="box burst")
    last = LedgerEntry.objects.latest("pk")
    assert (last.kind, last.change, last.cents) == ("transfer_loss", -2, -260)
    assert last.reason == "box burst"
    assert StockLevel.objects.get(branch=other_branch).on_hand == 28
    assert stock_faults(other_branch.pk) == []


def test_nothing_at_all_may_arrive(stocked: Branch, other_branch: Branch, beam: Part) -> None:
    parcel = services.Parcel((LENGTH, StockLength.objects.get().pk), 2)
    sent = services.transfer_out(stocked.pk, other_branch.pk, [parcel], at=AT)
    services.transfer_in(sent.pk, at=AT, arrived={sent.lines.get().pk: 0}, reason="stolen")
    head = Balance.objects.get(branch=other_branch)
    assert (head.quantity, head.cents) == (0, 0)


def test_an_offcut_travels_and_gets_a_new_tag(
    stocked: Branch, other_branch: Branch, beam: Part
) -> None:
    services.count_new(
        stocked.pk, beam.pk, 1, reason="found", at=AT, length_ticks=5 * FT, is_offcut=True
    )
    old = Offcut.objects.get()
    parcel = services.Parcel((OFFCUT, old.pk), 1)
    services.transfer_in(
        services.transfer_out(stocked.pk, other_branch.pk, [parcel], at=AT).pk, at=AT
    )
    old.refresh_from_db()
    new = Offcut.objects.get(branch=other_branch)
    assert (old.on_hand, new.on_hand, new.length_ticks) == (0, 1, 5 * FT)
    assert stock_faults(stocked.pk) == stock_faults(other_branch.pk) == []


def test_reserved_goods_stay(stocked: Branch, other_branch: Branch, bolt: Part) -> None:
    services.reserve(stocked.pk, [Need(bolt.pk, 80)], at=AT)
    before = written()
    parcel = services.Parcel((LEVEL, StockLevel.objects.get().pk), 21)
    with pytest.raises(InsufficientStockError, match="21 to send, 20 not reserved there"):
        services.transfer_out(stocked.pk, other_branch.pk, [parcel], at=AT)
    assert written() == before


def test_only_between_two_branches_of_a_company(
    stocked: Branch, other_branch: Branch, foreign_branch: Branch
) -> None:
    parcel = services.Parcel((LEVEL, StockLevel.objects.get().pk), 1)
    for target in (stocked, foreign_branch):
        with pytest.raises(InvalidValueError):
            services.transfer_out(stocked.pk, target.pk, [parcel], at=AT)
    with pytest.raises(NotFoundError):
        services.transfer_out(other_branch.pk, stocked.pk, [parcel], at=AT)
