"""The catalogue of a company as the engine reads it: ``parts-catalogue/1`` from the rows."""

from __future__ import annotations

from typing import Any

from contractor.api.models import Company
from contractor.engine.units import write_length, write_quantity
from inventory.models import Part, SupplierPart


def catalogue_document(company: Company) -> dict[str, Any]:
    """Return every active part that has a role and a price, at its cheapest supplier's price."""
    parts = Part.objects.filter(company=company, is_active=True).exclude(role="")
    rows = [_part(part) for part in parts.prefetch_related("price_list").order_by("code")]
    return {
        "schema": "parts-catalogue/1",
        "name": f"catalogue of {company.name}"[:200],
        "parts": [row for row in rows if row is not None],
    }


def _part(part: Part) -> dict[str, Any] | None:
    prices = sorted(part.price_list.all(), key=lambda p: (p.length_ticks, _unit_cents(p), p.pk))
    if not prices:
        return None
    row: dict[str, Any] = {
        **part.facts,
        "code": part.code,
        "kind": part.kind,
        "role": part.role,
        "description": part.description,
    }
    for name in ("profile", "grade"):
        if getattr(part, name):
            row[name] = getattr(part, name)
    if part.is_bar:
        return {**row, **_weight(part), "stock": _stock(prices)}
    best = min(prices, key=lambda p: (_unit_cents(p), p.pk))
    if part.kind == Part.Kind.CONSUMABLE:
        row["pack"] = {"size": best.pack_size, "price_cents": best.pack_cents}
    else:
        row["price_cents"] = round(_unit_cents(best))
    return {**row, **_weight(part)}


def _weight(part: Part) -> dict[str, Any]:
    if part.weight_plf is not None:
        return {"weight_per_length": write_quantity(part.weight_plf, "lb/ft")}
    return {} if part.weight_lb is None else {"weight": write_quantity(part.weight_lb, "lb")}


def _stock(prices: list[SupplierPart]) -> list[dict[str, Any]]:
    best: dict[int, SupplierPart] = {}
    for price in prices:  # sorted: the cheapest of each length comes first
        best.setdefault(price.length_ticks, price)
    return [
        {"length": write_length(ticks), "price_cents": round(_unit_cents(price))}
        for ticks, price in best.items()
    ]


def _unit_cents(price: SupplierPart) -> float:
    return price.pack_cents / price.pack_size
