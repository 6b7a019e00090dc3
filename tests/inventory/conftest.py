"""A small warehouse: one steel section in two lengths, bolts by the box, sealant that spoils."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from contractor.api.models import Branch, Company, Event
from inventory import services
from inventory.amounts import Delivery, Need
from inventory.models import (
    Kit,
    LedgerEntry,
    Offcut,
    Part,
    Reservation,
    ReservationLine,
    StockLength,
    StockLevel,
    Supplier,
    SupplierPart,
)

AT = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
FT = 12 * 64


@pytest.fixture
def beam(company: Company) -> Part:
    return Part.objects.create(
        company=company,
        code="S4",
        description="Steel beam S4x7.7",
        kind="bar",
        weight_plf=7.7,
        grade="A36",
        min_offcut_ticks=2 * FT,
    )


@pytest.fixture
def bolt(company: Company) -> Part:
    return Part.objects.create(
        company=company,
        code="BOLT",
        description="Hex bolt 1/2 x 3",
        kind="consumable",
        pack_name="box",
        pack_size=50,
    )


@pytest.fixture
def sealant(company: Company) -> Part:
    return Part.objects.create(
        company=company,
        code="SEAL",
        description="Sealant cartridge",
        kind="each",
        shelf_life_days=365,
    )


@pytest.fixture
def supplier(company: Company, beam: Part, bolt: Part) -> Supplier:
    made = Supplier.objects.create(company=company, name="Valley Steel Supply", lead_days=5)
    SupplierPart.objects.create(
        supplier=made, part=beam, length_ticks=40 * FT, pack_cents=30_110, lead_days=9
    )
    SupplierPart.objects.create(supplier=made, part=bolt, pack_size=50, pack_cents=6_500)
    return made


@pytest.fixture
def stocked(branch: Branch, beam: Part, bolt: Part) -> Branch:
    """Three 20 ft bars at 160.20 each, and 100 bolts at 1.30."""
    services.receive(
        branch.pk,
        [
            Delivery(beam.pk, 48_060, quantity=3, length_ticks=20 * FT),
            Delivery(bolt.pk, 13_000, packs=2),
        ],
        at=AT,
    )
    return branch


def kit_of(branch: Branch, *needs: Need, reference: str = "J-1", priority: int = 1) -> Kit:
    return services.create_kit(branch.pk, reference, needs, priority=priority)


def written() -> tuple[int, ...]:
    """Return what a refused service must leave as it was: rows, counts and sums."""
    tables = (LedgerEntry, Reservation, ReservationLine, Offcut, Event, Kit)
    levels = [(r.pk, r.on_hand, r.reserved) for r in StockLevel.objects.order_by("pk")]
    bars = [(r.pk, r.on_hand, r.reserved) for r in StockLength.objects.order_by("pk")]
    flat = [number for row in levels + bars for number in row]
    return (*(table.objects.count() for table in tables), *flat)
