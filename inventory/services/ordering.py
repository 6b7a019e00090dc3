"""Order from suppliers, note what they promise, cancel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from contractor.api.events import record
from contractor.api.transactions import service
from contractor.errors import NotFoundError, WrongStateError
from inventory import locks
from inventory.amounts import check_length, check_quantity, find_branch, find_parts
from inventory.errors import BadQuantityError, UnknownPartError
from inventory.models import Supplier, SupplierOrder, SupplierOrderLine
from inventory.states import move_order


@dataclass(frozen=True)
class OrderItem:
    """Units of use or bars; ``packs`` instead of ``quantity`` counts purchase packs."""

    part_pk: int
    cents: int
    quantity: int = 0
    packs: int = 0
    length_ticks: int = 0
    promised_on: date | None = None


@service
def order(
    branch_pk: int, supplier_pk: int, items: Sequence[OrderItem], *, reference: str = ""
) -> SupplierOrder:
    """Draft an order; it counts as coming only once it is placed."""
    branch = find_branch(branch_pk)
    supplier = Supplier.objects.filter(pk=supplier_pk, company=branch.company_id).first()
    if supplier is None:
        raise UnknownPartError(f"There is no supplier {supplier_pk}.", remedy="Pick a supplier.")
    if not items:
        raise BadQuantityError("Nothing is ordered.", remedy="Give at least one line.")
    parts = find_parts(branch, [item.part_pk for item in items])
    made = SupplierOrder.objects.create(branch=branch, supplier=supplier, reference=reference)
    for number, item in enumerate(items):
        part, pointer = parts[item.part_pk], f"#/lines/{number}"
        check_length(part, item.length_ticks, f"{pointer}/length")
        check_quantity(item.cents, f"{pointer}/cents", least=0)
        units = item.quantity
        if item.packs:
            units = check_quantity(item.packs, f"{pointer}/packs") * part.pack_size
        SupplierOrderLine.objects.create(
            order=made,
            part=part,
            length_ticks=item.length_ticks,
            quantity=check_quantity(units, f"{pointer}/quantity"),
            cents=item.cents,
            promised_on=item.promised_on,
        )
    record("supplier_order.drafted", made, branch=branch, lines=len(items))
    return made


@service
def place_order(order_pk: int, *, at: datetime, if_match: int | None = None) -> SupplierOrder:
    """Send it; a line without a promised day gets the supplier's lead time."""
    found = locks.lock_order(order_pk)
    found.expect_version(if_match)
    move_order(found, SupplierOrder.Status.PLACED)
    found.placed_at = at
    days = found.supplier.lead_days
    for line in found.lines.filter(promised_on__isnull=True).order_by("pk"):
        line.promised_on = date.fromordinal(at.date().toordinal() + days)
        line.save(update_fields=["promised_on"])
    found.save(update_fields=["status", "placed_at"])
    record("supplier_order.placed", found, branch=found.branch)
    return found


@service
def change_promise(
    order_pk: int, line_pk: int, promised_on: date | None, *, if_match: int | None = None
) -> SupplierOrder:
    """The supplier names another day, or none. Whoever waits hears it by the event."""
    found = locks.lock_order(order_pk)
    found.expect_version(if_match)
    line = found.lines.filter(pk=line_pk).first()
    if line is None:
        raise NotFoundError(f"The order has no line {line_pk}.")
    if not line.outstanding:
        raise WrongStateError("That line has been received.", remedy="Nothing is outstanding.")
    before = line.promised_on
    line.promised_on = promised_on
    line.save(update_fields=["promised_on"])
    found.save(update_fields=["status"])
    record(
        "supplier_order.promise_changed",
        found,
        branch=found.branch,
        part=line.part_id,
        before=before.isoformat() if before else None,
        after=promised_on.isoformat() if promised_on else None,
    )
    return found


@service
def cancel_order(order_pk: int, *, if_match: int | None = None) -> SupplierOrder:
    """What has not come is not coming."""
    found = locks.lock_order(order_pk)
    found.expect_version(if_match)
    move_order(found, SupplierOrder.Status.CANCELLED)
    found.save(update_fields=["status"])
    record("supplier_order.cancelled", found, branch=found.branch)
    return found
