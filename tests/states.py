"""Walk every pair of statuses through a table of moves."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import product
from typing import Any

import pytest

from contractor.errors import WrongStateError


def walk_every_pair(
    statuses: list[str],
    moves: Mapping[str, frozenset[str]],
    move: Callable[[Any, str], None],
    make: Callable[[str], Any],
) -> int:
    """Assert that ``move`` allows exactly what the table allows; return how many it allows."""
    assert set(moves) == set(statuses), "the table names every status"
    allowed = 0
    for start, end in product(statuses, repeat=2):
        row = make(start)
        if end in moves[start]:
            move(row, end)
            assert row.status == end
            allowed += 1
        else:
            with pytest.raises(WrongStateError):
                move(row, end)
            assert row.status == start
    return allowed
