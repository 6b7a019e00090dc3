from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, transaction

from contractor.api.models import Branch, Event
from contractor.errors import DomainError, InvalidValueError, NotFoundError, WrongStateError
from inventory import services
from inventory.amounts import Delivery, Need
from inventory.errors import (
    BadQuantityError,
    InsufficientStockError,
    KitNotCompleteError,
    MoreThanWantedError,
    WrongKindError,
)
from inventory.models import Kit, LedgerEntry, Part, Reservation, StockLevel
from inventory.queries import stock_faults
from tests.inventory.conftest import AT, FT, kit_of, written


@pytest.fixture
def pulling(stocked: Branch, bolt: Part) -> Kit:
    kit = kit_of(stocked, Need(bolt.pk, 12))
    services.reserve_kit(kit.pk, at=AT)
    return services.start_pulling(kit.pk)


def test_what_is_not_reserved_is_not_pulled(stocked: Branch, bolt: Part) -> None:
    kit = kit_of(stocked, Need(bolt.pk, 12))
    with pytest.raises(WrongStateError, match="This record is open and cannot become pulling"):
        services.start_pulling(kit.pk)
    with pytest.raises(WrongStateError, match="Kit J-1 is open, not being pulled"):
        services.pull(kit.pk, kit.lines.get().pk, 1)


def test_no_more_than_wanted_is_pulled(pulling: Kit) -> None:
    line = pulling.lines.get()
    services.pull(pulling.pk, line.pk, 10)
    with pytest.raises(MoreThanWantedError, match="3 of BOLT pulled, 2 wanted"):
        services.pull(pulling.pk, line.pk, 3)
    with pytest.raises(NotFoundError):
        services.pull(pulling.pk, line.pk + 99, 1)
    line.refresh_from_db()
    assert line.pulled == 10


def test_an_incomplete_kit_is_not_staged(pulling: Kit) -> None:
    line = pulling.lines.get()
    services.pull(pulling.pk, line.pk, 10)
    with pytest.raises(KitNotCompleteError) as refused:
        services.stage(pulling.pk)
    assert refused.value.facts["missing"] == [
        {"line": line.pk, "part": "BOLT", "mark": "", "missing": 2}
    ]
    services.short(pulling.pk, line.pk, 2, reason="box was short")
    assert StockLevel.objects.get().reserved == 10
    assert services.stage(pulling.pk).status == "staged"


def test_a_short_needs_a_reason_and_something_open(pulling: Kit) -> None:
    line = pulling.lines.get()
    before = written()
    with pytest.raises(InvalidValueError, match="A short needs a reason"):
        services.short(pulling.pk, line.pk, 2, reason="  ")
    with pytest.raises(MoreThanWantedError, match="13 of BOLT short, 12 still open"):
        services.short(pulling.pk, line.pk, 13, reason="x")
    assert written() == before


def test_a_substitute_is_held_at_once_or_refused(
    pulling: Kit, stocked: Branch, sealant: Part, beam: Part
) -> None:
    line = pulling.lines.get()
    before = written()
    with pytest.raises(InsufficientStockError, match="short 4 of SEAL"):
        services.substitute(pulling.pk, line.pk, Need(sealant.pk, 4), reason="out", at=AT)
    with pytest.raises(WrongKindError):
        services.substitute(pulling.pk, line.pk, Need(beam.pk, 1, FT), reason="out", at=AT)
    assert written() == before
    services.receive(stocked.pk, [Delivery(sealant.pk, 895, quantity=4)], at=AT)
    services.substitute(pulling.pk, line.pk, Need(sealant.pk, 4), reason="thread worn", at=AT)
    old, new = pulling.lines.order_by("pk")
    assert (old.short, old.reason) == (4, "thread worn")
    assert (new.substitutes, new.quantity, new.part) == (old, 4, sealant)
    assert StockLevel.objects.get(part=sealant).reserved == 4
    assert StockLevel.objects.exclude(part=sealant).get().reserved == 8
    services.pull(pulling.pk, old.pk, 8)
    services.pull(pulling.pk, new.pk, 4)
    services.stage(pulling.pk)
    services.load(pulling.pk, at=AT)
    assert StockLevel.objects.get(part=sealant).on_hand == 0
    assert stock_faults(stocked.pk) == []


def test_put_back_and_start_again(pulling: Kit, stocked: Branch) -> None:
    services.pull(pulling.pk, pulling.lines.get().pk, 12)
    with pytest.raises(WrongStateError, match="Kit J-1 is pulling"):
        services.release_kit(pulling.pk)
    services.put_back(pulling.pk)
    pulling.refresh_from_db()
    assert (pulling.status, pulling.lines.get().pulled) == ("open", 0)
    assert StockLevel.objects.get().reserved == 0
    with pytest.raises(WrongStateError, match="nothing of it has been pulled"):
        services.put_back(pulling.pk)
    services.reserve_kit(pulling.pk, at=AT)
    assert Reservation.objects.filter(status="held").count() == 1
    assert stock_faults(stocked.pk) == []


def test_a_loaded_kit_is_used_or_comes_back(pulling: Kit, stocked: Branch) -> None:
    line = pulling.lines.get()
    services.pull(pulling.pk, line.pk, 12)
    services.stage(pulling.pk)
    services.load(pulling.pk, at=AT)
    line.refresh_from_db()
    assert line.cents == 1_560  # 12 at 1.30
    before = written()
    with pytest.raises(MoreThanWantedError, match="13 of BOLT come back, 12 were loaded"):
        services.return_kit(pulling.pk, {line.pk: 13}, at=AT)
    assert written() == before
    services.return_kit(pulling.pk, {line.pk: 5}, at=AT)
    line.refresh_from_db()
    assert (line.used, line.returned, line.cents) == (7, 5, 910)
    with pytest.raises(WrongStateError):
        services.use_kit(pulling.pk)
    assert stock_faults(stocked.pk) == []


@pytest.fixture
def loaded(pulling: Kit) -> Kit:
    services.pull(pulling.pk, pulling.lines.get().pk, 12)
    services.stage(pulling.pk)
    return services.load(pulling.pk, at=AT)


def test_what_was_spoiled_on_site_is_scrapped_not_used(loaded: Kit, stocked: Branch) -> None:
    line = loaded.lines.get()
    services.return_kit(loaded.pk, {line.pk: 5}, at=AT, scrapped={line.pk: 3}, reason=" bent ")
    line.refresh_from_db()
    assert (line.returned, line.scrapped, line.used) == (5, 3, 4)
    assert (line.scrap_reason, line.scrapped_at, line.reason) == ("bent", AT, "")
    assert (line.cents, line.scrapped_cents) == (910, 390)  # 7 stay with the job at 1.30, 3 bent
    level = StockLevel.objects.get()
    assert level.on_hand == 93  # 100 - 12 + 5: what was spoiled had left at loading
    kinds = LedgerEntry.objects.filter(stock_level=level).values_list("kind", flat=True)
    assert list(kinds) == ["receipt", "issue", "return"]
    event = Event.objects.get(kind="kit.returned")
    assert event.data == {"lines": 1, "scrapped": 1}
    assert stock_faults(stocked.pk) == []


def test_all_of_a_line_may_be_scrapped(loaded: Kit, stocked: Branch) -> None:
    line = loaded.lines.get()
    services.return_kit(loaded.pk, {}, at=AT, scrapped={line.pk: 12}, reason="left in the rain")
    line.refresh_from_db()
    assert (line.returned, line.scrapped, line.used) == (0, 12, 0)
    assert line.scrapped_cents == line.cents == 1_560
    assert StockLevel.objects.get().on_hand == 88
    assert stock_faults(stocked.pk) == []


def test_refused_scrap_changes_nothing(loaded: Kit) -> None:
    line, before = loaded.lines.get(), written()

    def refused(error: type[DomainError], match: str, back: int, bent: int, reason: str) -> None:
        with pytest.raises(error, match=match):
            returned = {line.pk: back} if back else {}
            scrapped = {line.pk: bent} if bent else {}
            services.return_kit(loaded.pk, returned, at=AT, scrapped=scrapped, reason=reason)

    refused(MoreThanWantedError, "5 of BOLT come back, 8 were scrapped, 12 were", 5, 8, "bent")
    refused(MoreThanWantedError, "13 were scrapped, 12 were loaded", 0, 13, "bent")
    refused(InvalidValueError, "What was scrapped needs a reason", 5, 3, "  ")
    refused(InvalidValueError, "Nothing was scrapped", 5, 0, "bent")
    refused(InvalidValueError, "Nothing comes back and nothing was scrapped", 0, 0, "")
    refused(BadQuantityError, "-1 is not a whole number", 5, -1, "bent")
    with pytest.raises(NotFoundError, match=f"no line {line.pk + 99}"):
        services.return_kit(loaded.pk, {}, at=AT, scrapped={line.pk + 99: 1}, reason="bent")
    assert written() == before
    loaded.refresh_from_db()
    line.refresh_from_db()
    assert (loaded.status, line.scrapped, line.used) == ("loaded", 0, 0)


@pytest.mark.parametrize(
    "columns",
    [
        {"scrapped": 8, "returned": 5, "scrap_reason": "bent", "scrapped_at": AT},
        {"scrapped": 1, "scrapped_at": AT},
        {"scrapped": 1, "scrap_reason": "bent"},
    ],
)
def test_the_table_itself_refuses_wrong_scrap(loaded: Kit, columns: dict[str, Any]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        loaded.lines.update(**columns)


def test_used_up(pulling: Kit) -> None:
    services.pull(pulling.pk, pulling.lines.get().pk, 12)
    services.stage(pulling.pk)
    services.load(pulling.pk, at=AT)
    assert services.use_kit(pulling.pk).lines.get().used == 12


def test_a_cancelled_kit_holds_nothing(stocked: Branch, bolt: Part) -> None:
    kit = kit_of(stocked, Need(bolt.pk, 12))
    services.reserve_kit(kit.pk, at=AT)
    assert services.cancel_kit(kit.pk).status == "cancelled"
    assert StockLevel.objects.get().reserved == 0
    with pytest.raises(WrongStateError):
        services.reserve_kit(kit.pk, at=AT)


def test_a_kit_needs_a_reference_and_a_priority(stocked: Branch, bolt: Part) -> None:
    for reference, priority in (("", 1), ("J", 0), ("J", 5)):
        with pytest.raises(InvalidValueError):
            kit_of(stocked, Need(bolt.pk, 1), reference=reference, priority=priority)
    assert Kit.objects.count() == 0


def test_a_severe_kit_takes_over(stocked: Branch, bolt: Part) -> None:
    small = kit_of(stocked, Need(bolt.pk, 90), reference="calm", priority=1)
    services.reserve_kit(small.pk, at=AT)
    severe = kit_of(stocked, Need(bolt.pk, 50), reference="severe", priority=4)
    with pytest.raises(InsufficientStockError):
        services.reserve_kit(severe.pk, at=AT)
    with pytest.raises(InvalidValueError, match="not of a lower priority"):
        services.take_over(small.pk, [severe.pk], at=AT)
    services.take_over(severe.pk, [small.pk], at=AT)
    small.refresh_from_db()
    assert small.status == "open"
    assert StockLevel.objects.get().reserved == 50
    assert stock_faults(stocked.pk) == []


def test_taking_over_too_little_changes_nothing(stocked: Branch, bolt: Part) -> None:
    small = kit_of(stocked, Need(bolt.pk, 30), reference="calm", priority=1)
    services.reserve_kit(small.pk, at=AT)
    severe = kit_of(stocked, Need(bolt.pk, 101), reference="severe", priority=4)
    before = written()
    with pytest.raises(InsufficientStockError):
        services.take_over(severe.pk, [small.pk], at=AT)
    assert written() == before
    small.refresh_from_db()
    assert small.status == "reserved"
