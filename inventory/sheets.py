"""What hangs on the wall of the shop: pull sheet, cut list, labels; and the catalogue."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from contractor.api.models import Company
from contractor.engine.units import System, write_length, write_quantity
from inventory.models import (
    CutPiece,
    CutPlanBar,
    CuttingPlan,
    Kit,
    KitLine,
    Part,
    Reservation,
    ReservationLine,
    SupplierPart,
)
from inventory.services.catalogue import SCHEMA


def pull_sheet(kit: Kit, *, units: System) -> dict[str, Any]:
    """Return what to take from which bin for a kit, and its weight as far as it is known."""
    takes = _takes(kit)
    lines = list(kit.lines.select_related("part").order_by("pk"))
    weights = {line.pk: weight_lb(line.part, line.length_ticks) for line in lines}
    total = sum((weights[line.pk] or 0.0) * (line.quantity - line.short) for line in lines)
    return {
        "kit": kit.pk,
        "reference": kit.reference,
        "status": kit.status,
        "lines": [_pull_row(line, weights[line.pk], takes[line.pk], units) for line in lines],
        "weight": write_quantity(total, "lb", units),
        "weight_unknown": sorted({line.part.code for line in lines if weights[line.pk] is None}),
    }


def _takes(kit: Kit) -> dict[int, list[dict[str, Any]]]:
    """Return kit line -> where its units lie."""
    takes: dict[int, list[dict[str, Any]]] = defaultdict(list)
    holds = ReservationLine.objects.filter(
        reservation__kit=kit,
        reservation__status=Reservation.Status.HELD,
        stock_level__isnull=False,
        kit_line__isnull=False,
        outstanding__gt=0,
    ).select_related("stock_level__bin", "stock_level__lot")
    for hold in holds.order_by("pk"):
        place = hold.stock_level
        if place is not None and hold.kit_line_id is not None:
            takes[hold.kit_line_id].append(
                {
                    "bin": place.bin.name if place.bin else None,
                    "lot": place.lot.number if place.lot else None,
                    "quantity": hold.outstanding,
                }
            )
    return takes


def _pull_row(
    line: KitLine, weight: float | None, take: list[dict[str, Any]], units: System
) -> dict[str, Any]:
    return {
        "line": line.pk,
        "part": line.part.code,
        "description": line.part.description,
        "mark": line.mark,
        "length": write_length(line.length_ticks, units) if line.length_ticks else None,
        "quantity": line.quantity,
        "pulled": line.pulled,
        "short": line.short,
        "reason": line.reason,
        "weight_each": write_quantity(weight, "lb", units) if weight else None,
        "take": take,
    }


def weight_lb(part: Part, length_ticks: int) -> float | None:
    """Return the weight of one unit, or of one piece; None when nobody has entered it."""
    if part.is_bar:
        return part.weight_plf * length_ticks / (64 * 12) if part.weight_plf else None
    return part.weight_lb


def cut_list(plan: CuttingPlan, *, units: System) -> dict[str, Any]:
    """Return the bars in saw order with their pieces: what the person at the saw reads."""
    bars = plan.bars.select_related("stock_length__lot", "offcut__lot", "kept_offcut")
    return {
        "plan": plan.pk,
        "part": plan.part.code,
        "description": plan.part.description,
        "status": plan.status,
        "revision": plan.revision,
        "kerf": write_length(plan.kerf_ticks, units),
        "end_trim": write_length(plan.end_trim_ticks, units),
        "bars": [_bar(bar, units) for bar in bars],
        "cost_cents": plan.cost_cents,
        "bound_cents": plan.bound_cents,
        "gap": round(plan.gap, 6),
        "is_proven": plan.is_proven,
    }


def _bar(bar: CutPlanBar, units: System) -> dict[str, Any]:
    return {
        "bar": bar.pk,
        "number": bar.number,
        "status": bar.status,
        "from": bar.offcut.tag if bar.offcut else "full bar",
        "heat": bar.place.lot.number if bar.place.lot else None,
        "length": write_length(bar.length_ticks, units),
        "pieces": [_piece(piece, units) for piece in _pieces(bar.pk)],
        "left": write_length(bar.left_ticks, units),
        "keep": bar.is_kept,
        "tag": bar.kept_offcut.tag if bar.kept_offcut else None,
    }


def labels(plan: CuttingPlan, *, units: System) -> list[dict[str, Any]]:
    """Return one label per piece, in saw order: what sticks on the steel."""
    rows = CutPiece.objects.filter(bar__plan=plan).exclude(
        status__in=(CutPiece.Status.MIS_CUT, CutPiece.Status.SCRAPPED)
    )
    ordered = rows.select_related(
        "bar__stock_length__lot", "bar__offcut__lot", "kit_line__kit"
    ).order_by("bar__number", "position")
    return [
        {
            "piece": piece.pk,
            "bar": piece.bar.number,
            "position": piece.position,
            "mark": piece.kit_line.mark,
            "kit": piece.kit_line.kit.reference,
            "part": plan.part.code,
            "length": write_length(piece.length_ticks, units),
            "heat": piece.bar.place.lot.number if piece.bar.place.lot else None,
        }
        for piece in ordered
    ]


def _pieces(bar_pk: int) -> list[CutPiece]:
    rows = CutPiece.objects.filter(bar=bar_pk).select_related("kit_line__kit")
    return list(rows.order_by("position"))


def _piece(piece: CutPiece, units: System) -> dict[str, Any]:
    return {
        "piece": piece.pk,
        "position": piece.position,
        "mark": piece.kit_line.mark,
        "kit": piece.kit_line.kit.reference,
        "length": write_length(piece.length_ticks, units),
        "status": piece.status,
        "reason": piece.reason,
    }


def catalogue_document(company: Company) -> dict[str, Any]:
    """Return the active parts that have a role as ``parts-catalogue/1``, at least list prices."""
    prices: dict[int, dict[int, SupplierPart]] = defaultdict(dict)
    offers = SupplierPart.objects.filter(supplier__company=company).select_related("supplier")
    for offer in sorted(offers, key=lambda one: (one.pack_cents / one.pack_size, one.pk)):
        prices[offer.part_id].setdefault(offer.length_ticks, offer)
    parts = Part.objects.filter(company=company, is_active=True).exclude(role="").order_by("code")
    return {
        "schema": SCHEMA,
        "name": company.name[:200],
        "currency": "USD",
        "parts": [_catalogue_row(part, prices[part.pk]) for part in parts],
    }


def _catalogue_row(part: Part, offers: dict[int, SupplierPart]) -> dict[str, Any]:
    row: dict[str, Any] = {"code": part.code, "kind": part.kind, "description": part.description}
    for name in ("role", "profile", "grade"):
        if text := getattr(part, name):
            row[name] = text
    if part.weight_lb is not None:
        row["weight"] = {"value": part.weight_lb, "unit": "lb"}
    if part.weight_plf is not None:
        row["weight_per_length"] = {"value": part.weight_plf, "unit": "lb/ft"}
    row |= part.facts
    if part.is_bar:
        row["stock"] = [
            {"length": _plain(length), "price_cents": offer.pack_cents}
            for length, offer in sorted(offers.items())
        ]
    elif 0 in offers:
        offer = offers[0]
        if offer.pack_size > 1:
            row["pack"] = {"size": offer.pack_size, "price_cents": offer.pack_cents}
        else:
            row["price_cents"] = offer.pack_cents
    if offers:
        row["lead_time_days"] = min(offer.days for offer in offers.values())
    return row


def _plain(ticks: int) -> dict[str, Any]:
    return {"value": ticks / 64, "unit": "in"}
