"""One kit from its reservation over the saw to the truck and back."""

from __future__ import annotations

from contractor.api.models import Branch
from inventory import services
from inventory.amounts import Need
from inventory.models import (
    Balance,
    CutPiece,
    Kit,
    LedgerEntry,
    Offcut,
    Part,
    Reservation,
    StockLength,
    StockLevel,
)
from inventory.queries import stock_faults
from tests.inventory.conftest import AT, FT


def test_a_kit_from_shelf_to_truck_and_back(stocked: Branch, beam: Part, bolt: Part) -> None:
    piece = 8 * FT - 32  # 7'-11 1/2"
    kit = services.create_kit(
        stocked.pk, "J-1", [Need(beam.pk, 3, piece, "B"), Need(bolt.pk, 12)], priority=2
    )
    services.reserve_kit(kit.pk, at=AT)
    bars = StockLength.objects.get()
    assert (bars.on_hand, bars.reserved) == (3, 2)
    (plan,) = services.plan_cuts([kit.pk], at=AT)
    bars.refresh_from_db()
    assert (bars.on_hand, bars.reserved) == (3, 2)
    assert sorted(bar.pieces.count() for bar in plan.bars.all()) == [1, 2]
    assert plan.cost_cents == 32_040 and plan.is_proven
    services.start_sawing(plan.pk)
    for bar in plan.bars.all():
        services.record_sawn(bar.pk, at=AT)
    plan.refresh_from_db()
    assert plan.status == "done"
    assert stock_faults(stocked.pk) == []
    lengths = sorted(Offcut.objects.filter(on_hand=1).values_list("length_ticks", flat=True))
    # common practice: bar - pieces - one kerf of 1/8 in per piece
    assert lengths == [20 * FT - 2 * (piece + 8), 20 * FT - piece - 8]
    services.start_pulling(kit.pk)
    beams, bolts = kit.lines.order_by("pk")
    services.pull(kit.pk, beams.pk, 3)
    services.pull(kit.pk, bolts.pk, 12)
    services.stage(kit.pk)
    services.load(kit.pk, at=AT)
    level = StockLevel.objects.get()
    assert (level.on_hand, level.reserved) == (88, 0)
    bent = {beams.pk: 1}
    services.return_kit(kit.pk, {bolts.pk: 2, beams.pk: 1}, at=AT, scrapped=bent, reason="bent")
    kit.refresh_from_db()
    level.refresh_from_db()
    assert kit.status == Kit.Status.RETURNED
    assert level.on_hand == 90
    assert Balance.objects.get(part=bolt).cents == 11_700
    assert Offcut.objects.filter(on_hand=1, length_ticks=piece).count() == 1
    beams.refresh_from_db()
    assert (beams.returned, beams.scrapped, beams.used) == (1, 1, 1)
    assert stock_faults(stocked.pk) == []
    assert Reservation.objects.get().status == "consumed"
    assert set(CutPiece.objects.values_list("status", flat=True)) == {"sawn"}
    assert LedgerEntry.objects.filter(part=beam).count() == 10
    assert stock_faults(stocked.pk) == []
