from __future__ import annotations

from datetime import date

import pytest
from django.core.files.base import ContentFile

from contractor.api.models import Branch, Company
from contractor.errors import InvalidValueError
from inventory import services
from inventory.amounts import Delivery
from inventory.errors import (
    BadQuantityError,
    LotConflictError,
    MoreThanWantedError,
    UnknownPartError,
    WrongKindError,
)
from inventory.models import (
    Balance,
    Bin,
    LedgerEntry,
    Lot,
    Part,
    StockLength,
    StockLevel,
    Supplier,
)
from inventory.queries import stock_faults
from tests.inventory.conftest import AT, FT, written


def test_a_box_of_fifty_is_fifty_units(branch: Branch, bolt: Part) -> None:
    receipt = services.receive(branch.pk, [Delivery(bolt.pk, 6_500, packs=3)], at=AT)
    assert StockLevel.objects.get().on_hand == 150
    assert receipt.lines.get().quantity == 150
    entry = LedgerEntry.objects.get()
    assert (entry.quantity, entry.cents, entry.balance_quantity) == (150, 6_500, 150)
    assert entry.reference == f"receipt {receipt.pk}"


def test_bars_are_counted_by_length_heat_and_bin(branch: Branch, beam: Part) -> None:
    rack = Bin.objects.create(branch=branch, name="rack 1")
    services.receive(
        branch.pk,
        [
            Delivery(beam.pk, 16_020, quantity=1, length_ticks=20 * FT, lot_number="H 4711"),
            Delivery(beam.pk, 32_040, quantity=2, length_ticks=20 * FT, bin_pk=rack.pk),
            Delivery(beam.pk, 30_110, quantity=1, length_ticks=40 * FT),
        ],
        at=AT,
    )
    rows = StockLength.objects.order_by("pk").values_list("length_ticks", "on_hand", "lot__number")
    assert list(rows) == [(20 * FT, 1, "H 4711"), (20 * FT, 2, None), (40 * FT, 1, None)]
    head = Balance.objects.get()
    assert (head.quantity, head.cents, head.seq) == (100 * FT, 78_170, 3)
    assert stock_faults(branch.pk) == []


def test_sealant_gets_its_last_day_from_its_shelf_life(branch: Branch, sealant: Part) -> None:
    services.receive(branch.pk, [Delivery(sealant.pk, 895, quantity=1)], at=AT)
    assert Lot.objects.get().expires_on == date(2027, 3, 2)
    assert Lot.objects.get().number == "until 2027-03-02"


def test_a_lot_keeps_its_expiry(branch: Branch, sealant: Part) -> None:
    first = Delivery(sealant.pk, 1, quantity=1, lot_number="A", expires_on=date(2026, 9, 1))
    services.receive(branch.pk, [first], at=AT)
    before = written()
    other = Delivery(sealant.pk, 1, quantity=1, lot_number="A", expires_on=date(2026, 10, 1))
    with pytest.raises(LotConflictError, match="Lot A of SEAL is known with expiry 2026-09-01"):
        services.receive(branch.pk, [other], at=AT)
    assert written() == before


@pytest.mark.parametrize("quantity", [0, -1, True, 10_000_001, 2.5, "3"])
def test_zero_negative_and_odd_quantities_are_refused(
    branch: Branch, bolt: Part, quantity: int
) -> None:
    with pytest.raises(BadQuantityError):
        services.receive(branch.pk, [Delivery(bolt.pk, 100, quantity=quantity)], at=AT)
    assert written() == (0, 0, 0, 0, 0, 0)


def test_what_cannot_be_read_is_refused(branch: Branch, beam: Part, bolt: Part) -> None:
    bad: list[tuple[Delivery, type[Exception]]] = [
        (Delivery(bolt.pk, 100, quantity=1, length_ticks=5), WrongKindError),
        (Delivery(beam.pk, 100, quantity=1), WrongKindError),
        (Delivery(bolt.pk, -1, quantity=1), BadQuantityError),
        (Delivery(bolt.pk, 1, quantity=1, packs=1), BadQuantityError),
        (Delivery(bolt.pk + 1000, 1, quantity=1), UnknownPartError),
        (Delivery(bolt.pk, 1, quantity=1, bin_pk=99), UnknownPartError),
    ]
    for delivery, refusal in bad:
        with pytest.raises(refusal):
            services.receive(branch.pk, [delivery], at=AT)
    with pytest.raises(BadQuantityError, match="Nothing was delivered"):
        services.receive(branch.pk, [], at=AT)
    assert written() == (0, 0, 0, 0, 0, 0)


def test_a_part_of_another_company_is_unknown(foreign_branch: Branch, bolt: Part) -> None:
    with pytest.raises(UnknownPartError):
        services.receive(foreign_branch.pk, [Delivery(bolt.pk, 1, quantity=1)], at=AT)


def test_an_order_comes_in_parts(branch: Branch, supplier: Supplier, bolt: Part) -> None:
    made = services.order(
        branch.pk, supplier.pk, [services.OrderItem(bolt.pk, 13_000, packs=2)], reference="PO 7"
    )
    services.place_order(made.pk, at=AT)
    line = made.lines.get()
    assert line.promised_on == date(2026, 3, 7)  # five days of lead time
    first = Delivery(bolt.pk, 7_800, quantity=60, order_line_pk=line.pk)
    services.receive_order(made.pk, [first], at=AT)
    made.refresh_from_db()
    assert (made.status, made.lines.get().outstanding) == ("partly_received", 40)
    too_many = Delivery(bolt.pk, 7_800, quantity=41, order_line_pk=line.pk)
    before = written()
    with pytest.raises(MoreThanWantedError, match="41 came, 40 are outstanding on that line"):
        services.receive_order(made.pk, [too_many], at=AT)
    assert written() == before
    rest = Delivery(bolt.pk, 5_200, quantity=40, order_line_pk=line.pk)
    services.receive_order(made.pk, [rest], at=AT)
    made.refresh_from_db()
    assert made.status == "received"
    assert StockLevel.objects.get().on_hand == 100


def test_a_receipt_names_its_order_line(
    branch: Branch, supplier: Supplier, beam: Part, bolt: Part
) -> None:
    made = services.order(branch.pk, supplier.pk, [services.OrderItem(bolt.pk, 100, quantity=5)])
    services.place_order(made.pk, at=AT)
    wrong = Delivery(beam.pk, 1, quantity=1, length_ticks=FT, order_line_pk=made.lines.get().pk)
    with pytest.raises(InvalidValueError, match="S4 is not what that line of the order asks for"):
        services.receive_order(made.pk, [wrong], at=AT)


def test_a_certificate_is_a_scan(
    branch: Branch, company: Company, beam: Part, settings: object, tmp_path: object
) -> None:
    settings.MEDIA_ROOT = tmp_path  # type: ignore[attr-defined]
    lot = Lot.objects.create(part=beam, number="H 4711")
    with pytest.raises(InvalidValueError, match="A certificate is a PDF, PNG or JPEG"):
        services.attach_certificate(lot.pk, ContentFile(b"MZ\x90", name="cert.pdf"))
    kept = services.attach_certificate(lot.pk, ContentFile(b"%PDF-1.7 ...", name="../x.exe"))
    assert kept.certificate.name == f"certificates/lot-{lot.pk}.pdf"
    assert kept.certificate.read() == b"%PDF-1.7 ..."
