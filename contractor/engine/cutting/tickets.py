"""Saw tickets: bar by bar what to cut where, with the kerf, and what goes on each label.

Positions run from the raw end of the bar. The end trim is cut off first, then the pieces follow,
longest first; every cut takes one kerf to the right of its position. The last cut falls away
where the piece ends the bar (a clean end needs no cut).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from contractor.engine.cutting.model import Bar, CutPlan, Instance, Item, Stock


@dataclass(frozen=True)
class TicketPiece:
    """One piece on a bar: from ``start`` to ``end``; ``cut_at`` None where the bar ends."""

    mark: str
    item: str
    length: int
    start: int
    end: int
    cut_at: int | None
    label: str
    due: date | None
    group: str | None


@dataclass(frozen=True)
class Ticket:
    """``bars`` bars of ``stock`` cut alike, as number ``number`` in saw order."""

    number: int
    stock: str
    stock_length: int
    is_offcut: bool
    bars: int
    trim_cut_at: int | None
    pieces: tuple[TicketPiece, ...]
    left: int
    is_kept: bool
    offcut_label: str | None


def cut_list(plan: CutPlan, instance: Instance) -> tuple[Ticket, ...]:
    """Return one ticket per row of the plan, in saw order; raises KeyError on unknown ids."""
    stock = {one.id: one for one in instance.stock}
    items = {one.id: one for one in instance.items}
    return tuple(
        _ticket(number, bar, stock[bar.stock], items, instance)
        for number, bar in enumerate(plan.bars, start=1)
    )


def _ticket(
    number: int, bar: Bar, stock: Stock, items: dict[str, Item], instance: Instance
) -> Ticket:
    single = [items[key] for key, count in bar.pieces for _ in range(count)]
    single.sort(key=lambda item: (-item.length, item.id))
    pieces: list[TicketPiece] = []
    at = instance.end_trim
    for place, item in enumerate(single, start=1):
        end = at + item.length
        mark = f"{number}.{place}"
        cut_at = end if end < stock.length else None
        pieces.append(_piece(mark, item, at, end, cut_at))
        at = end + instance.kerf
    return Ticket(
        number=number,
        stock=stock.id,
        stock_length=stock.length,
        is_offcut=stock.is_offcut,
        bars=bar.count,
        trim_cut_at=max(0, instance.end_trim - instance.kerf) if instance.end_trim else None,
        pieces=tuple(pieces),
        left=bar.left,
        is_kept=bar.is_kept,
        offcut_label=f"offcut of {stock.id}, bar {number}" if bar.is_kept else None,
    )


def _piece(mark: str, item: Item, start: int, end: int, cut_at: int | None) -> TicketPiece:
    words = [mark, item.id]
    if item.group is not None:
        words.append(item.group)
    if item.due is not None:
        words.append(f"due {item.due.isoformat()}")
    label = " · ".join(words)
    return TicketPiece(mark, item.id, item.length, start, end, cut_at, label, item.due, item.group)
