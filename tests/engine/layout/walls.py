"""Survey documents that the layout tests share."""

from __future__ import annotations

from typing import Any

Document = dict[str, Any]


def wall(
    length: str = "24 ft",
    centers: Any = None,
    features: list[Document] | None = None,
    rules: Document | None = None,
    *,
    joists: str = "perpendicular",
    damage: str = "normal",
) -> Document:
    """Return a survey of a wall with 2x10 joists at 16 in from 8 in, 7'-10" high."""
    return {
        "schema": "wall-survey/1",
        "name": "north wall",
        "wall": {"length": length, "kind": "hollow_block", "damage": damage},
        "framing": {
            "joists": joists,
            "kind": "sawn",
            "size": "2x10",
            "species": "SPF",
            "centers": centers or {"first": "8 in", "spacing": "16 in"},
        },
        "heights": [
            {"at": "0 in", "slab_to_subfloor": "7'-10\""},
            {"at": length, "slab_to_subfloor": "7'-10\""},
        ],
        "features": features or [],
        "rules": rules or {},
    }


def feature(kind: str, label: str, begin: str, end: str, **others: Any) -> Document:
    return {"kind": kind, "label": label, "from": begin, "to": end, **others}
