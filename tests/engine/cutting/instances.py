"""Cutting instances for the tests: documents written by hand, and by chance through hypothesis."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import strategies as st

from contractor.engine.cutting import CutPlan, plan_document, read_instance, solve

Document = dict[str, Any]


def instance(
    stock: list[tuple[int, int, int | None]],
    items: list[tuple[int, int]],
    *,
    kerf: int = 0,
    end_trim: int = 0,
    min_offcut: int = 0,
) -> Document:
    """Return a cut-stock/1 of (length, cost, supply) bars and (length, demand) pieces."""
    return {
        "schema": "cut-stock/1",
        "name": "test",
        "kerf": kerf,
        "end_trim": end_trim,
        "min_offcut": min_offcut,
        "stock": [
            {"id": f"s{at}", "length": length, "cost": cost, "supply": supply, "offcut": False}
            for at, (length, cost, supply) in enumerate(stock)
        ],
        "items": [
            {"id": f"i{at}", "length": length, "demand": demand}
            for at, (length, demand) in enumerate(items)
        ],
    }


def plan_for(document: Document, **options: Any) -> CutPlan:
    options.setdefault("seconds", 20.0)
    return solve(read_instance(document), **options)


def as_json(plan: CutPlan) -> Document:
    """Return the plan as the JSON that a client gets."""
    return dict(json.loads(json.dumps(plan_document(plan))))


@st.composite
def documents(draw: st.DrawFn, most_pieces: int = 40) -> Document:
    """Any mix of bars (one of them always at hand in any number), kerf, trim and pieces."""
    kerf = draw(st.integers(0, 3))
    end_trim = draw(st.integers(0, 5))
    longest = draw(st.integers(40, 200))
    stock: list[tuple[int, int, int | None]] = [(longest, draw(st.integers(1, 400)), None)]
    for _ in range(draw(st.integers(0, 4))):
        supply = draw(st.one_of(st.none(), st.integers(0, 4)))
        stock.append((draw(st.integers(10, longest)), draw(st.integers(1, 400)), supply))
    lengths = draw(
        st.lists(st.integers(3, longest - end_trim), min_size=1, max_size=12, unique=True)
    )
    items = [(length, draw(st.integers(1, max(1, most_pieces // 12)))) for length in lengths]
    least = draw(st.sampled_from([0, 10, 30]))
    return instance(stock, items, kerf=kerf, end_trim=end_trim, min_offcut=least)


@st.composite
def small_documents(draw: st.DrawFn, is_short: bool = False) -> Document:
    """At most seven pieces; ``is_short`` leaves out the bar that is always at hand."""
    kerf = draw(st.integers(0, 2))
    end_trim = draw(st.integers(0, 3))
    stock: list[tuple[int, int, int | None]] = []
    if not is_short:
        stock.append((30, draw(st.integers(1, 40)), None))
    for _ in range(draw(st.integers(1 if is_short else 0, 3))):
        stock.append((draw(st.integers(10, 30)), draw(st.integers(1, 40)), draw(st.integers(0, 2))))
    top = max(length for length, _, _ in stock) - end_trim
    lengths = draw(st.lists(st.integers(2, top), min_size=1, max_size=7))
    return instance(stock, [(one, 1) for one in lengths], kerf=kerf, end_trim=end_trim)
