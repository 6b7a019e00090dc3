"""Statuses move by a table; only ``move`` assigns one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from contractor.errors import WrongStateError

Moves = Mapping[str, frozenset[str]]


class HasStatus(Protocol):
    status: str


def move(row: HasStatus, status: str, moves: Moves) -> None:
    """Set ``row.status`` (unsaved) if the table allows it, else refuse."""
    allowed = moves.get(row.status, frozenset())
    if status not in allowed:
        names = ", ".join(sorted(allowed)) or "nothing: it is final"
        raise WrongStateError(
            f"This record is {row.status} and cannot become {status}.",
            remedy=f"From {row.status} it can become: {names}.",
            status_now=row.status,
        )
    row.status = status
