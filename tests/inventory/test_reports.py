from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from contractor.api.models import Branch
from inventory import services, sheets
from inventory.amounts import Delivery, Need
from inventory.models import Bin, Part
from inventory.reports import offcuts_by_age, yield_by_month
from tests.inventory.conftest import AT, FT, kit_of


def test_the_yield_of_a_month_adds_up_to_the_bars(stocked: Branch, beam: Part) -> None:
    kit = kit_of(stocked, Need(beam.pk, 3, 9 * FT))
    (plan,) = services.plan_cuts([kit.pk], at=AT)
    for bar in plan.bars.all():
        services.record_sawn(bar.pk, at=AT)
    (month,) = yield_by_month(stocked, first=date(2026, 1, 1), last=date(2026, 12, 31))
    assert (month.month, month.part_pk) == (date(2026, 3, 1), beam.pk)
    assert month.pieces_ticks == 27 * FT
    # one bar keeps 11 ft less a kerf; the other's 2 ft less two kerfs are under the least offcut
    assert month.kept_ticks == 11 * FT - 8
    assert month.pieces_ticks + month.waste_ticks + month.kept_ticks == 40 * FT
    assert (month.plan_cents, month.bound_cents) == (32_040, 32_040)
    assert (month.site_scrap, month.site_scrap_cents) == (0, 0)
    assert 0.92 < month.yield_share < 0.94
    assert yield_by_month(stocked, first=date(2026, 4, 1), last=date(2026, 12, 31)) == []


def test_bars_sawn_before_a_plan_was_made_again_stay_in_the_month(
    stocked: Branch, beam: Part
) -> None:
    kit = kit_of(stocked, Need(beam.pk, 3, 9 * FT))
    (plan,) = services.plan_cuts([kit.pk], at=AT)
    first = plan.bars.order_by("number")[0]
    piece = first.pieces.order_by("position")[0]
    services.record_sawn(first.pk, at=AT, mis_cut={piece.pk: "stop slipped"})
    plan.refresh_from_db()
    assert plan.sawn_cents == 16_020
    services.replan_cuts(plan.pk, at=AT)
    (month,) = yield_by_month(stocked, first=date(2026, 1, 1), last=date(2026, 12, 31))
    rest = [(801 * bar.length_ticks + FT // 2) // FT for bar in plan.bars.filter(status="planned")]
    assert rest  # 16,020 for 20 ft are 801 a foot
    assert (month.plan_cents, month.bound_cents) == (16_020 + sum(rest), 16_020 + sum(rest))


def test_what_was_spoiled_on_site_counts_in_its_month(stocked: Branch, bolt: Part) -> None:
    kit = kit_of(stocked, Need(bolt.pk, 12))
    services.reserve_kit(kit.pk, at=AT)
    services.start_pulling(kit.pk)
    line = kit.lines.get()
    services.pull(kit.pk, line.pk, 12)
    services.stage(kit.pk)
    services.load(kit.pk, at=AT)
    late = datetime(2026, 4, 1, 3, tzinfo=UTC)  # still the last evening of March at the branch
    services.return_kit(kit.pk, {line.pk: 5}, at=late, scrapped={line.pk: 3}, reason="bent")
    (month,) = yield_by_month(stocked, first=date(2026, 1, 1), last=date(2026, 12, 31))
    assert (month.month, month.part_pk) == (date(2026, 3, 1), bolt.pk)
    assert (month.site_scrap, month.site_scrap_cents) == (3, 390)  # 1.30 each
    assert (month.waste_ticks, month.waste_cents, month.yield_share) == (0, 0, 1.0)
    assert yield_by_month(stocked, first=date(2026, 4, 1), last=date(2026, 12, 31)) == []


def test_offcuts_by_age(stocked: Branch, beam: Part) -> None:
    for days in (1, 29, 100, 400):
        services.count_new(
            stocked.pk,
            beam.pk,
            1,
            reason="found",
            at=AT - timedelta(days=days),
            length_ticks=5 * FT,
            is_offcut=True,
        )
    ages = offcuts_by_age(stocked, at=AT)
    assert [(one.days, one.count, one.ticks) for one in ages] == [
        (30, 2, 10 * FT),
        (180, 1, 5 * FT),
        (None, 1, 5 * FT),
    ]


def test_the_pull_sheet_names_bins_and_weights(branch: Branch, beam: Part, bolt: Part) -> None:
    shelf = Bin.objects.create(branch=branch, name="A 3")
    services.receive(
        branch.pk,
        [
            Delivery(bolt.pk, 100, quantity=20, bin_pk=shelf.pk),
            Delivery(beam.pk, 100, quantity=1, length_ticks=20 * FT),
        ],
        at=AT,
    )
    kit = kit_of(branch, Need(beam.pk, 2, 8 * FT, "north B1"), Need(bolt.pk, 12))
    services.reserve_kit(kit.pk, at=AT)
    sheet = sheets.pull_sheet(kit, units="us")
    beams, bolts = sheet["lines"]
    assert bolts["take"] == [{"bin": "A 3", "lot": None, "quantity": 12}]
    assert beams["weight_each"]["text"] == "61.6 lb"  # 8 ft at 7.7 lb/ft
    assert sheet["weight"]["text"] == "123.2 lb"
    assert sheet["weight_unknown"] == ["BOLT"]


def test_the_cut_list_and_its_labels(stocked: Branch, beam: Part) -> None:
    kit = kit_of(stocked, Need(beam.pk, 1, 9 * FT, "B1"), Need(beam.pk, 1, 8 * FT, "B2"))
    (plan,) = services.plan_cuts([kit.pk], at=AT)
    listed = sheets.cut_list(plan, units="us")
    (bar,) = listed["bars"]
    assert [piece["mark"] for piece in bar["pieces"]] == ["B1", "B2"]
    assert (bar["from"], bar["length"]["text"], bar["keep"]) == ("full bar", "20'-0\"", True)
    assert bar["left"]["text"] == "2'-11 3/4\""
    labels = sheets.labels(plan, units="us")
    assert [(one["mark"], one["kit"], one["length"]["text"]) for one in labels] == [
        ("B1", "J-1", "9'-0\""),
        ("B2", "J-1", "8'-0\""),
    ]
    services.record_sawn(plan.bars.get().pk, at=AT)
    assert sheets.cut_list(plan, units="us")["bars"][0]["tag"] is not None
