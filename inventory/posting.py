"""Add entries to the ledger: balances and places move in the same transaction.

Callers hold the locks (``inventory.locks``) and have checked that the stock is there; the
tables' constraints have the last word.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from contractor.api.actor import current_actor
from inventory.models import Balance, LedgerEntry, Offcut, Place, StockLength, StockLevel

Kind = LedgerEntry.Kind


@dataclass(frozen=True)
class Note:
    """When, why and what for."""

    at: datetime
    reason: str = ""
    reference: str = ""


def value_of(head: Balance, quantity: int) -> int:
    """Return the moving-average cents of ``quantity`` out of ``head``, halves up.

    All of the quantity is worth all of the cents, so nothing is lost to rounding.
    """
    if head.quantity == 0:
        return 0
    return (2 * head.cents * quantity + head.quantity) // (2 * head.quantity)


def post(
    head: Balance,
    place: Place,
    kind: str,
    note: Note,
    *,
    change: int,
    cents: int,
    quantity: int | None = None,
    unreserve: int = 0,
) -> LedgerEntry:
    """Write one entry and move ``head`` and ``place`` with it.

    ``change`` counts units or bars, ``quantity`` (default: change x what one counts for) units
    or ticks; ``cents`` is signed like them. ``unreserve`` gives up a hold at the same time.
    """
    moved = change * place.unit_quantity if quantity is None else quantity
    entry = _move(head, place, kind, note, change, moved, cents)
    place.reserved -= unreserve
    _save(head)
    if change or unreserve:
        place.save(update_fields=["on_hand", "reserved"])
    entry.save(force_insert=True)
    return entry


def post_receipts(
    goods: Iterable[tuple[Balance, Place, int, int]], note: Note
) -> list[LedgerEntry]:
    """Write what came in, as (head, place, count, cents): each row is saved once."""
    heads: dict[int, Balance] = {}
    places: dict[tuple[type[Place], int], Place] = {}
    entries: list[LedgerEntry] = []
    for head, place, count, cents in goods:
        quantity = count * place.unit_quantity
        entries.append(_move(head, place, Kind.RECEIPT, note, count, quantity, cents))
        heads[head.pk] = head
        places[type(place), place.pk] = place
    for head in heads.values():
        _save(head)
    for place in places.values():
        place.save(update_fields=["on_hand"])
    return LedgerEntry.objects.bulk_create(entries)


def _move(
    head: Balance, place: Place, kind: str, note: Note, change: int, quantity: int, cents: int
) -> LedgerEntry:
    """Move ``head`` and ``place`` in memory; return the entry that says so, not yet saved."""
    head.quantity += quantity
    head.cents += cents
    head.seq += 1
    head.at = note.at if head.at is None else max(note.at, head.at)
    place.on_hand += change
    return LedgerEntry(
        branch_id=head.branch_id,
        part_id=head.part_id,
        seq=head.seq,
        at=head.at,
        kind=kind,
        change=change,
        quantity=quantity,
        cents=cents,
        balance_quantity=head.quantity,
        balance_cents=head.cents,
        place_balance=place.on_hand,
        reason=note.reason,
        reference=note.reference,
        actor=current_actor(),
        **place_columns(place),
    )


def _save(head: Balance) -> None:
    head.save(update_fields=["quantity", "cents", "seq", "at"])


def place_columns(place: Place) -> dict[str, int | None]:
    """Return the three place columns of a row that names exactly one place."""
    return {
        "stock_level_id": place.pk if isinstance(place, StockLevel) else None,
        "stock_length_id": place.pk if isinstance(place, StockLength) else None,
        "offcut_id": place.pk if isinstance(place, Offcut) else None,
    }


def take_out(
    head: Balance, place: Place, kind: str, note: Note, *, count: int, unreserve: int = 0
) -> LedgerEntry:
    """Take ``count`` units or bars out at the moving average."""
    cents = value_of(head, count * place.unit_quantity)
    return post(head, place, kind, note, change=-count, cents=-cents, unreserve=unreserve)
