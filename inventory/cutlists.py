"""What a cutting plan is made from, read as plain values and compared again under the lock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from inventory.allocation import LENGTH, OFFCUT
from inventory.errors import NothingToCutError
from inventory.holding import place_of
from inventory.locks import PlaceKey
from inventory.models import (
    Balance,
    CutPiece,
    CutPlanBar,
    CuttingPlan,
    Kit,
    KitLine,
    Offcut,
    Part,
    Reservation,
    ReservationLine,
    StockLength,
)
from inventory.posting import value_of

CUTTABLE = (Kit.Status.OPEN, Kit.Status.RESERVED, Kit.Status.PULLING)


@dataclass(frozen=True)
class Wanted:
    """``count`` pieces of a kit line."""

    line_pk: int
    kit_pk: int
    length_ticks: int
    count: int
    due: date | None
    group: str


@dataclass(frozen=True)
class BarsAt:
    """``count`` bars of a place that this plan may use; ``cents`` is the value of one."""

    place: PlaceKey
    length_ticks: int
    count: int
    cents: int


@dataclass(frozen=True)
class Inputs:
    """Equal inputs give equal plans: this is compared before a plan is stored."""

    branch_pk: int
    part_pk: int
    kit_pks: tuple[int, ...]
    kerf_ticks: int
    end_trim_ticks: int
    min_offcut_ticks: int
    wanted: tuple[Wanted, ...]
    bars: tuple[BarsAt, ...]

    def document(self) -> dict[str, Any]:
        """Return the ``cut-stock/1`` document: items are kit lines, stock ids name places."""
        return {
            "schema": "cut-stock/1",
            "name": f"part {self.part_pk}",
            "kerf": self.kerf_ticks,
            "end_trim": self.end_trim_ticks,
            "min_offcut": self.min_offcut_ticks,
            "stock": [
                {
                    "id": stock_id(bar.place),
                    "length": bar.length_ticks,
                    "cost": bar.cents,
                    "supply": bar.count,
                    "offcut": bar.place[0] == OFFCUT,
                }
                for bar in self.bars
            ],
            "items": [
                {
                    "id": str(one.line_pk),
                    "length": one.length_ticks,
                    "demand": one.count,
                    "due": one.due.isoformat() if one.due else None,
                    "group": one.group,
                }
                for one in self.wanted
            ],
            "source": "inventory",
        }


def stock_id(place: PlaceKey) -> str:
    return f"{'R' if place[0] == OFFCUT else 'L'}{place[1]}"


def place_named(stock: str) -> PlaceKey:
    return (OFFCUT if stock[0] == "R" else LENGTH), int(stock[1:])


def gather(
    branch_pk: int, part: Part, kit_pks: Sequence[int], plan: CuttingPlan | None = None
) -> Inputs:
    """Read what ``part`` needs sawn for the kits and what may be sawn.

    Bars that the kits or the unsawn part of ``plan`` hold count as free for it. Raises
    NothingToCutError when no piece is wanted and the plan has none left either.
    """
    wanted = _wanted(part, kit_pks, plan)
    if not wanted and plan is None:
        raise NothingToCutError(
            f"No kit wants a piece of {part.code} that is not planned or sawn already.",
            remedy="Choose other kits.",
        )
    return Inputs(
        branch_pk=branch_pk,
        part_pk=part.pk,
        kit_pks=tuple(sorted(kit_pks)),
        kerf_ticks=part.kerf_ticks,
        end_trim_ticks=part.end_trim_ticks,
        min_offcut_ticks=part.min_offcut_ticks,
        wanted=wanted,
        bars=_bars(branch_pk, part, kit_pks, plan),
    )


def _wanted(part: Part, kit_pks: Sequence[int], plan: CuttingPlan | None) -> tuple[Wanted, ...]:
    lines = (
        KitLine.objects.filter(kit__in=kit_pks, kit__status__in=CUTTABLE, part=part)
        .select_related("kit")
        .order_by("pk")
    )
    planned = _planned_elsewhere([line.pk for line in lines], plan)
    return tuple(
        Wanted(
            line.pk,
            line.kit_id,
            line.length_ticks,
            line.to_cut - planned[line.pk],
            line.kit.needed_on,
            line.kit.reference,
        )
        for line in lines
        if line.to_cut - planned[line.pk] > 0
    )


def _planned_elsewhere(line_pks: Sequence[int], plan: CuttingPlan | None) -> Counter[int]:
    pieces = CutPiece.objects.filter(kit_line__in=line_pks, status=CutPiece.Status.PLANNED)
    if plan is not None:
        pieces = pieces.exclude(bar__plan=plan)
    return Counter(pieces.values_list("kit_line", flat=True))


def own_holds(part: Part, kit_pks: Sequence[int]) -> list[ReservationLine]:
    """Return what the kits' held reservations hold of the part's bars."""
    lines = ReservationLine.objects.filter(
        reservation__kit__in=kit_pks,
        reservation__status=Reservation.Status.HELD,
        part=part,
        outstanding__gt=0,
    )
    return list(lines.order_by("pk"))


def unsawn_bars(plan: CuttingPlan) -> list[CutPlanBar]:
    return list(plan.bars.filter(status=CutPlanBar.Status.PLANNED).order_by("number"))


def _bars(
    branch_pk: int, part: Part, kit_pks: Sequence[int], plan: CuttingPlan | None
) -> tuple[BarsAt, ...]:
    ours: Counter[PlaceKey] = Counter()
    for line in own_holds(part, kit_pks):
        ours[place_of(line)] += line.outstanding
    for bar in unsawn_bars(plan) if plan is not None else []:
        ours[bar_place(bar)] += 1
    head = Balance.objects.filter(branch=branch_pk, part=part).first()
    found: list[BarsAt] = []
    for rank, table in ((LENGTH, StockLength), (OFFCUT, Offcut)):
        rows = table._default_manager.filter(branch=branch_pk, part=part, on_hand__gt=0)
        for row in rows.order_by("length_ticks", "pk"):
            count = row.available + ours[rank, row.pk]
            if count and head is not None:
                cents = max(1, value_of(head, row.length_ticks))
                found.append(BarsAt((rank, row.pk), row.length_ticks, count, cents))
    return tuple(found)


def bar_place(bar: CutPlanBar) -> PlaceKey:
    """Return the key of a planned bar's place without loading it."""
    if bar.stock_length_id is not None:
        return LENGTH, bar.stock_length_id
    assert bar.offcut_id is not None  # the constraint plan_bar_one_place
    return OFFCUT, bar.offcut_id
