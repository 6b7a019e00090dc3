"""Where a value comes from; printed beside it on every sheet."""

from __future__ import annotations

from typing import Final, Literal

Basis = Literal[
    "read",
    "derived",
    "from memory, confirm",
    "common practice",
    "measured",
    "assumed",
]
READ: Final = "read"
DERIVED: Final = "derived"
MEMORY: Final = "from memory, confirm"
PRACTICE: Final = "common practice"
MEASURED: Final = "measured"
ASSUMED: Final = "assumed"

#: Weakest first: a result is no better founded than its weakest input.
_RANK: dict[Basis, int] = {
    ASSUMED: 0,
    MEMORY: 1,
    PRACTICE: 2,
    READ: 3,
    DERIVED: 4,
    MEASURED: 5,
}


def weakest(*bases: Basis) -> Basis:
    """Return the weakest of ``bases``."""
    return min(bases, key=lambda basis: _RANK[basis])
