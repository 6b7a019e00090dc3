from __future__ import annotations

import pytest

from contractor.api.models import Branch
from contractor.errors import InvalidValueError, NotFoundError
from inventory import services
from inventory.allocation import LENGTH, LEVEL, OFFCUT
from inventory.amounts import Need
from inventory.errors import BadQuantityError, BelowReservedError, InsufficientStockError
from inventory.models import Balance, Bin, LedgerEntry, Offcut, Part, StockLength, StockLevel
from inventory.queries import stock_faults
from tests.inventory.conftest import AT, FT, written


def test_a_count_posts_the_difference_with_its_reason(stocked: Branch, bolt: Part) -> None:
    level = StockLevel.objects.get()
    done = services.count((LEVEL, level.pk), 97, reason="three bent", at=AT)
    assert (done.expected, done.found) == (100, 97)
    entry = LedgerEntry.objects.latest("pk")
    assert (entry.kind, entry.change, entry.cents) == ("count", -3, -390)
    assert entry.reason == "three bent"
    services.count((LEVEL, level.pk), 97, reason="again", at=AT)
    assert LedgerEntry.objects.count() == 3  # a count that finds what is expected posts nothing
    assert stock_faults(stocked.pk) == []


def test_less_than_is_reserved_is_refused(stocked: Branch, bolt: Part) -> None:
    services.reserve(stocked.pk, [Need(bolt.pk, 60)], at=AT)
    level = StockLevel.objects.get()
    before = written()
    with pytest.raises(BelowReservedError, match="59 found, 60 reserved there"):
        services.count((LEVEL, level.pk), 59, reason="flood", at=AT)
    with pytest.raises(BelowReservedError):
        services.adjust((LEVEL, level.pk), -41, reason="flood", at=AT)
    assert written() == before
    services.adjust((LEVEL, level.pk), -40, reason="flood", at=AT)
    assert StockLevel.objects.get().on_hand == 60


def test_a_correction_needs_a_reason_and_a_change(stocked: Branch) -> None:
    key = (LEVEL, StockLevel.objects.get().pk)
    before = written()
    with pytest.raises(InvalidValueError, match="A correction needs a reason"):
        services.count(key, 5, reason=" ", at=AT)
    with pytest.raises(BadQuantityError, match="0 changes nothing"):
        services.adjust(key, 0, reason="x", at=AT)
    with pytest.raises(BadQuantityError, match="101 taken away, 100 on hand"):
        services.adjust(key, -101, reason="x", at=AT)
    with pytest.raises(BadQuantityError):
        services.count(key, -1, reason="x", at=AT)
    with pytest.raises(NotFoundError):
        services.count((LENGTH, 99_999), 1, reason="x", at=AT)
    assert written() == before


def test_a_found_offcut_gets_a_tag_and_the_average_value(stocked: Branch, beam: Part) -> None:
    services.count_new(
        stocked.pk, beam.pk, 1, reason="behind the rack", at=AT, length_ticks=5 * FT, is_offcut=True
    )
    offcut = Offcut.objects.get()
    assert (offcut.on_hand, offcut.tag) == (1, f"R{offcut.pk}")
    assert LedgerEntry.objects.latest("pk").cents == 4_005  # 48,060 for 60 ft, so 801 a foot
    services.count((OFFCUT, offcut.pk), 0, reason="rusted through", at=AT)
    assert Balance.objects.get(part=beam).cents == 48_060
    with pytest.raises(BadQuantityError, match="An offcut is one piece"):
        services.count((OFFCUT, offcut.pk), 2, reason="x", at=AT)
    assert stock_faults(stocked.pk) == []


def test_goods_never_bought_are_worth_nothing(branch: Branch, bolt: Part) -> None:
    services.count_new(branch.pk, bolt.pk, 7, reason="left by the former tenant", at=AT)
    head = Balance.objects.get()
    assert (head.quantity, head.cents) == (7, 0)


def test_found_goods_after_the_last_left_are_worth_the_last_average(
    stocked: Branch, bolt: Part
) -> None:
    key = (LEVEL, StockLevel.objects.get().pk)
    services.count(key, 0, reason="stolen", at=AT)
    assert Balance.objects.get(part=bolt).cents == 0
    services.count(key, 10, reason="found in the truck", at=AT)
    assert Balance.objects.get(part=bolt).cents == 1_300


def test_stock_moves_between_bins_unless_it_is_reserved(stocked: Branch, bolt: Part) -> None:
    shelf = Bin.objects.create(branch=stocked, name="A 1")
    services.reserve(stocked.pk, [Need(bolt.pk, 60)], at=AT)
    level = StockLevel.objects.get()
    before = written()
    with pytest.raises(InsufficientStockError, match="41 to move, 40 not reserved there"):
        services.move_to_bin((LEVEL, level.pk), shelf.pk, 41, at=AT)
    assert written() == before
    moved = services.move_to_bin((LEVEL, level.pk), shelf.pk, 40, at=AT)
    assert (moved.bin, moved.on_hand) == (shelf, 40)
    assert Balance.objects.get(part=bolt).cents == 13_000
    assert stock_faults(stocked.pk) == []


def test_bars_move_too(stocked: Branch, beam: Part) -> None:
    rack = Bin.objects.create(branch=stocked, name="rack")
    bars = StockLength.objects.get()
    services.move_to_bin((LENGTH, bars.pk), rack.pk, 1, at=AT)
    assert sorted(StockLength.objects.values_list("on_hand", flat=True)) == [1, 2]
    assert stock_faults(stocked.pk) == []
