"""Prices and reorder rules."""

from __future__ import annotations

from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.errors import InvalidValueError
from inventory.amounts import check_length
from inventory.models import Part, ReorderRule, Supplier, SupplierPart


@service
def set_price(
    *,
    supplier: Supplier,
    part: Part,
    pack_cents: int,
    length_ticks: int = 0,
    pack_size: int = 1,
    minimum_packs: int = 1,
    lead_days: int | None = None,
) -> SupplierPart:
    """Write one line of a price list; the same supplier, part and length replaces the old one."""
    check_length(part, length_ticks, "#/length")
    if supplier.company_id != part.company_id:
        raise InvalidValueError("Supplier and part belong to one company.", remedy="Choose anew.")
    return SupplierPart.objects.update_or_create(
        supplier=supplier,
        part=part,
        length_ticks=length_ticks,
        defaults={
            "pack_cents": pack_cents,
            "pack_size": pack_size,
            "minimum_packs": minimum_packs,
            "lead_days": lead_days,
        },
    )[0]


@service
def set_reorder_rule(
    *, branch: Branch, part: Part, point: int, order_up_to: int, length_ticks: int = 0
) -> ReorderRule:
    """Write a reorder rule; the same branch, part and length replaces the old one."""
    check_length(part, length_ticks, "#/length")
    if order_up_to < point or part.company_id != branch.company_id:
        raise InvalidValueError(
            "Ordering up to less than the reorder point never ends.",
            remedy="Order up to the point or more.",
            pointer="#/order_up_to",
        )
    return ReorderRule.objects.update_or_create(
        branch=branch,
        part=part,
        length_ticks=length_ticks,
        defaults={"point": point, "order_up_to": order_up_to},
    )[0]
