"""What to buy, from whom, in whole packs; and where reorder points should lie."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from contractor.api.models import Branch
from inventory.allocation import usable
from inventory.models import (
    Kit,
    KitLine,
    LedgerEntry,
    Part,
    ReorderRule,
    StockLength,
    StockLevel,
    Supplier,
    SupplierOrderLine,
    SupplierPart,
)
from inventory.packing import FreeBars, pack
from inventory.promising import COMING, open_lines

_K = LedgerEntry.Kind
OUT = (_K.ISSUE, _K.CUT, _K.SCRAP, _K.RETURN)
SERVICE_Z = 1.645  # normal quantile of 0.95
Key = tuple[int, int]  # part, length in ticks (0 for units)


@dataclass(frozen=True)
class OrderLine:
    """``packs`` of ``pack_size``; ``because``: reorder point or shortage, with its numbers."""

    part_pk: int
    length_ticks: int
    packs: int
    quantity: int
    cents: int
    because: str


@dataclass(frozen=True)
class Suggestion:
    """One order. ``missing_cents`` is what lacks to the supplier's minimum."""

    supplier_pk: int
    lines: tuple[OrderLine, ...]
    cents: int
    missing_cents: int
    arrives_on: date


@dataclass(frozen=True)
class ReorderPoint:
    """``point`` = use in the lead time + safety stock; quantities in units, or ticks for bars."""

    part_pk: int
    use_per_day: float
    lead_days: int
    safety: int
    point: int


def order_suggestions(branch: Branch, *, on: date) -> list[Suggestion]:
    """Return orders that would meet open kits and refill below the reorder points.

    Per part the price list with the least cost is taken, packs rounded up, the list's minimum
    kept. What has no price anywhere is left out: nobody can order it.
    """
    wanted = _wanted(branch, on)
    prices = _prices(branch)
    lines: dict[int, list[OrderLine]] = defaultdict(list)
    for key, (quantity, because) in sorted(wanted.items()):
        if offers := prices.get(key):
            offer = min(offers, key=lambda one: (_cost(one, quantity), one.supplier_id))
            lines[offer.supplier_id].append(_line(offer, quantity, because))
    suppliers = Supplier.objects.in_bulk(list(lines))
    days = {pk: _days(pk, found, prices) for pk, found in lines.items()}
    return [
        _suggestion(suppliers[pk], found, on + timedelta(days=days[pk]))
        for pk, found in sorted(lines.items())
    ]


def _suggestion(supplier: Supplier, lines: Sequence[OrderLine], arrives: date) -> Suggestion:
    cents = sum(line.cents for line in lines)
    missing = max(0, supplier.minimum_order_cents - cents)
    return Suggestion(supplier.pk, tuple(lines), cents, missing, arrives)


def _days(
    supplier: int, lines: Sequence[OrderLine], prices: Mapping[Key, list[SupplierPart]]
) -> int:
    offers = [
        offer
        for line in lines
        for offer in prices[line.part_pk, line.length_ticks]
        if offer.supplier_id == supplier
    ]
    return max(offer.days for offer in offers)


def _packs(offer: SupplierPart, quantity: int) -> int:
    return max(offer.minimum_packs, -(-quantity // offer.pack_size))


def _cost(offer: SupplierPart, quantity: int) -> int:
    return _packs(offer, quantity) * offer.pack_cents


def _line(offer: SupplierPart, quantity: int, because: str) -> OrderLine:
    packs = _packs(offer, quantity)
    units, cents = packs * offer.pack_size, packs * offer.pack_cents
    return OrderLine(offer.part_id, offer.length_ticks, packs, units, cents, because)


def _prices(branch: Branch) -> dict[Key, list[SupplierPart]]:
    found: dict[Key, list[SupplierPart]] = defaultdict(list)
    rows = SupplierPart.objects.filter(supplier__company=branch.company_id)
    for row in rows.select_related("supplier").order_by("pk"):
        found[row.part_id, row.length_ticks].append(row)
    return found


def _wanted(branch: Branch, on: date) -> dict[Key, tuple[int, str]]:
    """Return what to buy by part and length, and why."""
    here = _positions(branch, on)
    wanted: dict[Key, tuple[int, str]] = {}
    for part_pk, short in _short_units(branch, here).items():
        wanted[part_pk, 0] = (short, f"open kits are short {short}")
    for key, count in _short_bars(branch, on).items():
        wanted[key] = (count, f"open kits need {count} more bars")
    for rule in ReorderRule.objects.filter(branch=branch).order_by("pk"):
        key = (rule.part_id, rule.length_ticks)
        need = wanted.get(key, (0, ""))[0]
        position = here.get(key, 0) - (need if rule.length_ticks else 0)
        if not rule.length_ticks:
            position -= _open_units(branch).get(rule.part_id, 0)
        if position < rule.point:
            text = f"{position} against a reorder point of {rule.point}"
            wanted[key] = (max(need, rule.order_up_to - position), text)
    return wanted


def _positions(branch: Branch, on: date) -> dict[Key, int]:
    """Return what is available and on order: units, or bars by length."""
    here: dict[Key, int] = defaultdict(int)
    for level in usable(StockLevel.objects.filter(branch=branch), on):
        here[level.part_id, 0] += level.available
    for bar in StockLength.objects.filter(branch=branch):
        here[bar.part_id, bar.length_ticks] += bar.available
    lines = SupplierOrderLine.objects.filter(order__branch=branch, order__status__in=COMING)
    for line in lines:
        here[line.part_id, line.length_ticks] += line.outstanding
    return here


def _open_units(branch: Branch) -> dict[int, int]:
    """Return what open kits (nothing held yet) want of parts stocked by unit."""
    waiting: dict[int, int] = defaultdict(int)
    for line in _open_lines(branch):
        if not line.part.is_bar:
            waiting[line.part_id] += line.wanted
    return waiting


def _open_lines(branch: Branch) -> list[KitLine]:
    lines = KitLine.objects.filter(kit__branch=branch, kit__status=Kit.Status.OPEN)
    return list(lines.select_related("part").order_by("pk"))


def _short_units(branch: Branch, here: Mapping[Key, int]) -> dict[int, int]:
    gaps = {pk: count - here.get((pk, 0), 0) for pk, count in _open_units(branch).items()}
    return {pk: gap for pk, gap in gaps.items() if gap > 0}


def _short_bars(branch: Branch, on: date) -> dict[Key, int]:
    """Return bars to buy for pieces that neither stock nor orders hold: the cheapest length."""
    pieces: dict[int, list[int]] = defaultdict(list)
    parts: dict[int, Part] = {}
    for line, count in open_lines(line for line in _open_lines(branch) if line.part.is_bar):
        parts[line.part_id] = line.part
        pieces[line.part_id] += [line.length_ticks] * count
    prices = _prices(branch)
    here = _positions(branch, on)
    bought: dict[Key, int] = {}
    for part_pk in sorted(pieces):
        part = parts[part_pk]
        bars = [
            FreeBars(key, key[1], count)
            for key, count in sorted(here.items())
            if key[0] == part_pk and count > 0
        ]
        rules = {"kerf": part.kerf_ticks, "end_trim": part.end_trim_ticks}
        unmet = [pieces[part_pk][at] for at in pack(pieces[part_pk], bars, **rules).unmet]
        options = []
        for (pk, length), offers in sorted(prices.items()):
            if pk != part_pk or not unmet:
                continue
            found = pack(unmet, [FreeBars((pk, length), length, len(unmet))], **rules)
            cents = min(offer.pack_cents for offer in offers) * len(found.bars)
            options.append((len(found.unmet), cents, length, len(found.bars)))
        if options and min(options)[3]:
            _, _, length, count = min(options)
            bought[part_pk, length] = count
    return bought


def reorder_points(branch: Branch, *, on: date, window_days: int = 90) -> list[ReorderPoint]:
    """Return a reorder point per part that was used in the last ``window_days``.

    Common practice: use per day x lead time + z x deviation of daily use x square root of the
    lead time, z = 1.645 for a 95 % chance of lasting until the goods are here.
    """
    zone = ZoneInfo(branch.time_zone)
    start = datetime.combine(on - timedelta(days=window_days), time(), zone)
    daily: dict[int, dict[date, int]] = defaultdict(lambda: defaultdict(int))
    rows = LedgerEntry.objects.filter(branch=branch, kind__in=OUT, at__gte=start)
    for part_pk, at, quantity in rows.values_list("part", "at", "quantity"):
        daily[part_pk][at.astimezone(zone).date()] -= quantity
    lead = _lead_days(branch)
    return [
        _point(part_pk, list(used.values()), window_days, lead.get(part_pk, 7))
        for part_pk, used in sorted(daily.items())
    ]


def _point(part_pk: int, used: Sequence[int], days: int, lead: int) -> ReorderPoint:
    mean = sum(used) / days
    squares = sum((one - mean) ** 2 for one in used) + (days - len(used)) * mean**2
    deviation = math.sqrt(squares / (days - 1)) if days > 1 else 0.0
    safety = math.ceil(SERVICE_Z * deviation * math.sqrt(lead))
    point = max(0, math.ceil(mean * lead) + safety)
    return ReorderPoint(part_pk, mean, lead, safety, point)


def _lead_days(branch: Branch) -> dict[int, int]:
    days: dict[int, int] = {}
    for (part_pk, _), offers in _prices(branch).items():
        least = min(offer.days for offer in offers)
        days[part_pk] = min(days.get(part_pk, least), least)
    return days
