"""Questions about stock: now, at a past moment, and whether it all adds up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, F, Max, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.locks import PLACE_TABLES
from inventory.models import (
    Balance,
    CutPlanBar,
    LedgerEntry,
    Offcut,
    Part,
    Place,
    ReservationLine,
    StockLength,
    StockLevel,
)

_COLUMN = {StockLevel: "stock_level", StockLength: "stock_length", Offcut: "offcut"}


@dataclass(frozen=True)
class Position:
    """Stock of a part at a branch: units, or ticks for bars; ``cents`` is its value."""

    branch_pk: int
    part_pk: int
    quantity: int
    cents: int


@dataclass(frozen=True)
class Fault:
    """Something that does not add up; ``code`` is stable."""

    code: str
    text: str


def position_at(branch_pk: int, part_pk: int, at: datetime) -> Position:
    """Return stock and value at a past moment: one index lookup, however long the ledger."""
    entry = (
        LedgerEntry.objects.filter(branch=branch_pk, part=part_pk, at__lte=at)
        .order_by("-at", "-seq")
        .values_list("balance_quantity", "balance_cents")
        .first()
    )
    quantity, cents = entry or (0, 0)
    return Position(branch_pk, part_pk, quantity, cents)


def positions_at(branch_pks: Iterable[int], at: datetime) -> list[Position]:
    """Return every part's position at the branches at a past moment: one lookup per part."""
    last = (
        LedgerEntry.objects.filter(branch=OuterRef("branch"), part=OuterRef("part"), at__lte=at)
        .order_by("-at", "-seq")
        .values("pk")[:1]
    )
    heads = Balance.objects.filter(branch__in=list(branch_pks)).annotate(last=Subquery(last))
    entries = LedgerEntry.objects.in_bulk([pk for pk in heads.values_list("last", flat=True) if pk])
    return [
        Position(entry.branch_id, entry.part_id, entry.balance_quantity, entry.balance_cents)
        for _, entry in sorted(entries.items())
    ]


def stock_faults(branch_pk: int) -> list[Fault]:
    """Return what breaks an invariant at a branch; an empty list is what everybody expects.

    On hand is the sum of the ledger; reserved is the sum of holds and planned bars; the head
    of the ledger is its last entry; a bar part's ticks are what lies in its places.
    """
    found: list[Fault] = []
    for table in PLACE_TABLES:
        found += _place_faults(table, branch_pk)
    for head in Balance.objects.filter(branch=branch_pk).select_related("part").order_by("pk"):
        found += _head_faults(head)
    return found


def _place_faults(table: type[Place], branch_pk: int) -> list[Fault]:
    column = _COLUMN[table]
    rows = table._default_manager.filter(branch=branch_pk).order_by("pk")
    summed = _sum_by(LedgerEntry.objects.filter(branch=branch_pk), column, "change")
    held = _sum_by(
        ReservationLine.objects.filter(reservation__status="held"), column, "outstanding"
    )
    planned: dict[int, int] = {}
    if table is not StockLevel:
        bars = CutPlanBar.objects.filter(status=CutPlanBar.Status.PLANNED)
        planned = dict(
            bars.filter(**{f"{column}__isnull": False})
            .order_by()
            .values_list(column)
            .annotate(n=Count("pk"))
        )
    found: list[Fault] = []
    for row in rows:
        name = f"{table._meta.verbose_name} {row.pk}"
        if row.on_hand != summed.get(row.pk, 0):
            text = f"{name}: {row.on_hand} on hand, the ledger says {summed.get(row.pk, 0)}."
            found.append(Fault("on_hand_not_ledger", text))
        wanted = held.get(row.pk, 0) + planned.get(row.pk, 0)
        if row.reserved != wanted:
            text = f"{name}: {row.reserved} reserved, holds and plans say {wanted}."
            found.append(Fault("reserved_not_holds", text))
        if not 0 <= row.reserved <= row.on_hand:
            found.append(Fault("reserved_outside", f"{name}: {row.reserved} of {row.on_hand}."))
    return found


def _sum_by(
    rows: QuerySet[LedgerEntry] | QuerySet[ReservationLine], column: str, what: str
) -> dict[int, int]:
    named = rows.filter(**{f"{column}__isnull": False}).order_by()
    return dict(named.values_list(column).annotate(total=Sum(what)))


def _head_faults(head: Balance) -> list[Fault]:
    entries = LedgerEntry.objects.filter(branch=head.branch_id, part=head.part_id)
    sums = entries.aggregate(q=Sum("quantity"), c=Sum("cents"), n=Count("pk"), last=Max("seq"))
    seen = (sums["q"] or 0, sums["c"] or 0, sums["n"], sums["last"] or 0)
    found: list[Fault] = []
    if seen != (head.quantity, head.cents, head.seq, head.seq):
        text = f"{head.part}: head {head.quantity}, {head.cents}, {head.seq}; entries {seen}."
        found.append(Fault("head_not_ledger", text))
    last = entries.order_by("-seq").first()
    if last and (last.balance_quantity, last.balance_cents) != (head.quantity, head.cents):
        found.append(Fault("head_not_last_entry", f"{head.part}: entry {last.pk} differs."))
    lying = _lying(head.branch_id, head.part)
    if lying != head.quantity:
        text = f"{head.part}: {lying} in its places, the ledger says {head.quantity}."
        found.append(Fault("places_not_ledger", text))
    return found


def _lying(branch_pk: int, part: Part) -> int:
    mine = Q(branch=branch_pk, part=part)
    if not part.is_bar:
        return StockLevel.objects.filter(mine).aggregate(n=Coalesce(Sum("on_hand"), 0))["n"] or 0
    total = 0
    for table in (StockLength, Offcut):
        ticks = table._default_manager.filter(mine).aggregate(
            n=Coalesce(Sum(F("on_hand") * F("length_ticks")), 0)
        )
        total += ticks["n"] or 0
    return total
