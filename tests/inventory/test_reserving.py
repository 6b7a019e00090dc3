from __future__ import annotations

from datetime import date, timedelta

import pytest

from contractor.api.models import Branch, Event
from contractor.errors import StaleVersionError, WrongStateError
from inventory import services
from inventory.allocation import LEVEL, Hold
from inventory.amounts import Delivery, Need
from inventory.errors import (
    BadQuantityError,
    InsufficientStockError,
    PieceTooLongError,
    UnknownPartError,
)
from inventory.holding import hold
from inventory.models import Kit, Part, Reservation, StockLength, StockLevel, Supplier
from inventory.queries import stock_faults
from tests.inventory.conftest import AT, FT, kit_of, written


def test_all_or_nothing_with_the_shortage_list(
    stocked: Branch, supplier: Supplier, beam: Part, bolt: Part
) -> None:
    kit = kit_of(stocked, Need(bolt.pk, 30), Need(beam.pk, 7, 9 * FT, "B"))
    before = written()
    with pytest.raises(InsufficientStockError) as refused:
        services.reserve_kit(kit.pk, at=AT)
    assert refused.value.detail == "Not enough stock: short 1 of S4."
    assert refused.value.facts["shortages"] == [
        {
            "part": "S4",
            "wanted": 7,
            "available": 6,
            "short": 1,
            "expected_on": "2026-03-11",  # nine days of lead time for 40 ft bars
            "source": "lead_time",
            "length": "9'-0\"",
        }
    ]
    assert written() == before
    kit.refresh_from_db()
    assert kit.status == Kit.Status.OPEN


def test_the_shortage_list_knows_what_is_on_order(
    stocked: Branch, supplier: Supplier, bolt: Part
) -> None:
    item = services.OrderItem(bolt.pk, 6_500, packs=1, promised_on=date(2026, 3, 20))
    services.place_order(services.order(stocked.pk, supplier.pk, [item]).pk, at=AT)
    with pytest.raises(InsufficientStockError) as refused:
        services.reserve(stocked.pk, [Need(bolt.pk, 101)], at=AT)
    (row,) = refused.value.facts["shortages"]
    assert (row["available"], row["short"]) == (100, 1)
    assert (row["expected_on"], row["source"]) == ("2026-03-20", "order")


def test_reserving_twice_is_a_wrong_state(stocked: Branch, bolt: Part) -> None:
    kit = kit_of(stocked, Need(bolt.pk, 30))
    services.reserve_kit(kit.pk, at=AT)
    before = written()
    with pytest.raises(WrongStateError, match="This record is reserved and cannot become reserved"):
        services.reserve_kit(kit.pk, at=AT)
    assert written() == before


def test_a_stale_kit_is_refused(stocked: Branch, bolt: Part) -> None:
    kit = kit_of(stocked, Need(bolt.pk, 30))
    with pytest.raises(StaleVersionError):
        services.reserve_kit(kit.pk, at=AT, if_match=7)
    assert Reservation.objects.count() == 0


def test_release_gives_everything_back(stocked: Branch, beam: Part, bolt: Part) -> None:
    kit = kit_of(stocked, Need(bolt.pk, 30), Need(beam.pk, 2, 9 * FT))
    services.reserve_kit(kit.pk, at=AT)
    assert StockLevel.objects.get().reserved == 30
    assert StockLength.objects.get().reserved == 1
    services.release_kit(kit.pk)
    assert StockLevel.objects.get().reserved == 0
    assert StockLength.objects.get().reserved == 0
    kit.refresh_from_db()
    assert (kit.status, Reservation.objects.get().status) == ("open", "released")
    kinds = set(Event.objects.values_list("kind", flat=True))
    assert kinds >= {"kit.reserved", "kit.released", "reservation.released"}


def test_bars_are_packed_not_counted_by_piece(stocked: Branch, beam: Part) -> None:
    """20 ft holds two pieces of 9'-11 15/16" with one kerf of 1/8 in; 10 ft pieces not."""
    services.reserve(stocked.pk, [Need(beam.pk, 2, 10 * FT - 4)], at=AT)
    assert StockLength.objects.get().reserved == 1
    services.reserve(stocked.pk, [Need(beam.pk, 2, 10 * FT)], at=AT)
    assert StockLength.objects.get().reserved == 3


def test_the_lot_that_expires_first_goes_first(branch: Branch, sealant: Part) -> None:
    late = Delivery(sealant.pk, 1, quantity=5, lot_number="L", expires_on=date(2026, 12, 1))
    soon = Delivery(sealant.pk, 1, quantity=2, lot_number="S", expires_on=date(2026, 4, 1))
    gone = Delivery(sealant.pk, 1, quantity=9, lot_number="G", expires_on=date(2026, 3, 1))
    services.receive(branch.pk, [late, soon, gone], at=AT)
    services.reserve(branch.pk, [Need(sealant.pk, 3)], at=AT)
    held = dict(StockLevel.objects.values_list("lot__number", "reserved"))
    assert held == {"L": 1, "S": 2, "G": 0}
    with pytest.raises(InsufficientStockError) as refused:
        services.reserve(branch.pk, [Need(sealant.pk, 5)], at=AT)
    assert refused.value.facts["shortages"][0]["available"] == 4


def test_a_piece_longer_than_any_bar_is_refused_when_the_kit_is_made(
    stocked: Branch, supplier: Supplier, beam: Part
) -> None:
    kit_of(stocked, Need(beam.pk, 1, 40 * FT))  # a 40 ft bar can be bought
    before = written()
    with pytest.raises(PieceTooLongError) as refused:
        kit_of(stocked, Need(beam.pk, 1, 40 * FT + 1))
    assert refused.value.code == "piece_too_long"
    assert refused.value.detail == (
        "A piece of 40'-0\" does not come out of the longest bar of S4, 40'-0\"."
    )
    assert written() == before


def test_bad_needs_are_refused(stocked: Branch, bolt: Part) -> None:
    before = written()
    for need, refusal in [
        (Need(bolt.pk, 0), BadQuantityError),
        (Need(bolt.pk, -4), BadQuantityError),
        (Need(999_999, 1), UnknownPartError),
    ]:
        with pytest.raises(refusal):
            services.reserve(stocked.pk, [need], at=AT)
    with pytest.raises(BadQuantityError, match="Nothing is asked for"):
        services.reserve(stocked.pk, [], at=AT)
    assert written() == before


def test_a_hold_expires_but_not_while_it_is_pulled(stocked: Branch, bolt: Part) -> None:
    due = AT + timedelta(days=3)
    idle, busy = kit_of(stocked, Need(bolt.pk, 10)), kit_of(stocked, Need(bolt.pk, 20))
    for kit in (idle, busy):
        services.reserve_kit(kit.pk, at=AT, expires_at=due)
    services.start_pulling(busy.pk)
    holds = list(Reservation.objects.order_by("pk").values_list("pk", flat=True))
    assert [services.expire(pk, at=due - timedelta(seconds=1)) for pk in holds] == [False, False]
    assert [services.expire(pk, at=due) for pk in holds] == [True, False]
    assert [services.expire(pk, at=due) for pk in holds] == [False, False]
    idle.refresh_from_db()
    assert idle.status == "open"
    assert StockLevel.objects.get().reserved == 20
    assert stock_faults(stocked.pk) == []


def test_a_hold_of_its_own_is_released_by_its_key(stocked: Branch, bolt: Part) -> None:
    held = services.reserve(stocked.pk, [Need(bolt.pk, 10), Need(bolt.pk, 5)], at=AT)
    assert StockLevel.objects.get().reserved == 15
    services.release(held.pk)
    assert StockLevel.objects.get().reserved == 0
    with pytest.raises(WrongStateError):
        services.release(held.pk)


def test_a_hold_is_the_row_that_the_model_makes_and_can_be_changed(
    vendor: str, stocked: Branch, bolt: Part, beam: Part
) -> None:
    """Both ways, the quick one and the long one (bars), write by statements of our own."""
    for needs in ([Need(bolt.pk, 3)], [Need(beam.pk, 1, 8 * FT)]):
        expires_at = AT + timedelta(days=1)
        kept = services.reserve(
            stocked.pk, needs, at=AT, reference="A 'b' 5 %", priority=2, expires_at=expires_at
        )
        theirs = Reservation(
            branch=stocked, reference="A 'b' 5 %", priority=2, expires_at=expires_at
        )
        found = Reservation.objects.get(pk=kept.pk)
        for field in Reservation._meta.concrete_fields:
            if field.attname not in ("id", "created_at", "updated_at"):
                assert getattr(found, field.attname) == getattr(theirs, field.attname)
        event = Event.objects.get(subject=f"reservation:{kept.pk}")
        assert (event.branch_id, event.company_id) == (stocked.pk, stocked.company_id)
        released = services.release(kept.pk)
        assert (released.status, released.version) == ("released", 2)
    assert stock_faults(stocked.pk) == []


def test_only_whole_numbers_reach_the_texts_of_a_hold(stocked: Branch, bolt: Part) -> None:
    level = StockLevel.objects.get(part=bolt)
    reservation = Reservation.objects.create(branch=stocked)
    for wrong in ("1", 1.5, "1); DELETE FROM inventory_stocklevel; --"):
        for one in (
            Hold((LEVEL, level.pk), bolt.pk, wrong),  # type: ignore[arg-type]
            Hold((LEVEL, level.pk), wrong, 1),  # type: ignore[arg-type]
            Hold((LEVEL, level.pk), bolt.pk, 1, wrong),  # type: ignore[arg-type]
            Hold((LEVEL, wrong), bolt.pk, 1),  # type: ignore[arg-type]
        ):
            with pytest.raises((ValueError, TypeError)):
                hold(reservation, [one])
    assert not reservation.lines.exists()
