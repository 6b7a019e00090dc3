"""The rows of a cutting plan and the places they hold: shared steps under locks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from contractor.engine.cutting import CutPlan
from contractor.engine.cutting.model import Bar
from inventory import locks
from inventory.allocation import LENGTH, OFFCUT
from inventory.cutlists import Inputs, bar_place, gather, own_holds, place_named
from inventory.errors import InputsChangedError, NothingToCutError
from inventory.holding import place_of
from inventory.locks import PlaceKey
from inventory.models import (
    CutPiece,
    CutPlanBar,
    CuttingPlan,
    KitLine,
    Part,
    Place,
    ReservationLine,
)

Places = dict[PlaceKey, Place]


def check_unchanged(inputs: Inputs, plan: CuttingPlan | None) -> Places:
    """Lock the part's bars and compare with what was read; raises InputsChangedError."""
    bars = locks.lock_bars(inputs.branch_pk, inputs.part_pk)
    part = Part.objects.get(pk=inputs.part_pk)
    try:
        now = gather(inputs.branch_pk, part, inputs.kit_pks, plan)
    except NothingToCutError:
        now = None
    if now != inputs:
        raise InputsChangedError(
            "Stock or pieces changed while the plan was computed.", remedy="Plan again."
        )
    return {locks.place_key(row): row for row in bars}


def let_kits_go(inputs: Inputs, places: Places) -> None:
    """Hand the bars that the kits hold over to the plan (in memory)."""
    lines = own_holds(Part.objects.get(pk=inputs.part_pk), inputs.kit_pks)
    for line in lines:
        places[place_of(line)].reserved -= line.outstanding
        line.outstanding = 0
    ReservationLine.objects.bulk_update(lines, ["outstanding"])


def let_bars_go(bars: Iterable[CutPlanBar], places: Places) -> None:
    """Delete unsawn bars with their pieces; their places are free (in memory)."""
    for bar in bars:
        places[bar_place(bar)].reserved -= 1
        bar.delete()


def save_places(places: Places) -> None:
    """Write ``reserved`` of locked places, in lock order."""
    for key in sorted(places):
        places[key].save(update_fields=["reserved"])


def write_bars(
    plan: CuttingPlan, bars: Sequence[Bar], places: Places, *, first_number: int
) -> None:
    """Store bars in saw order and hold their places (in memory)."""
    lines = KitLine.objects.filter(kit__cutting_plans=plan)
    lengths = dict(lines.values_list("pk", "length_ticks"))
    each = [bar for bar in bars for _ in range(bar.count)]
    for number, bar in enumerate(each, first_number):
        key = place_named(bar.stock)
        place = places[key]
        place.reserved += 1
        row = CutPlanBar.objects.create(
            plan=plan,
            number=number,
            stock_length_id=key[1] if key[0] == LENGTH else None,
            offcut_id=key[1] if key[0] == OFFCUT else None,
            length_ticks=place.unit_quantity,
            left_ticks=bar.left,
            is_kept=bar.is_kept,
        )
        _write_pieces(row, [(int(pk), count) for pk, count in bar.pieces], lengths)


def _write_pieces(
    row: CutPlanBar, pieces: Sequence[tuple[int, int]], lengths: dict[int, int]
) -> None:
    """Longest piece first: a mistake then leaves the most to cut from."""
    lines = sorted(
        (line for line, count in pieces for _ in range(count)), key=lambda pk: (-lengths[pk], pk)
    )
    CutPiece.objects.bulk_create(
        CutPiece(bar=row, kit_line_id=line, position=at + 1, length_ticks=lengths[line])
        for at, line in enumerate(lines)
    )


def save_figures(plan: CuttingPlan, found: CutPlan, at: datetime) -> None:
    """Store cost, bound and proof of what was just planned, and of what is sawn already."""
    plan.revision += 1
    plan.needs_replan = False
    plan.cost_cents = plan.sawn_cents + found.cost
    plan.bound_cents = plan.sawn_cents + found.bound
    plan.is_proven, plan.method, plan.seconds = found.is_proven, found.method, found.seconds
    plan.problem, plan.planned_at = {}, at
    plan.save()
