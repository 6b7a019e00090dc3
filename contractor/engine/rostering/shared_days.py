"""Two half-day jobs on one crew-day: out to one, over to the other, home.

The pair becomes one option of two half-days that covers both jobs and drives less than
the two options that it stands for. Only where the instance asks for ``shared_days``.
"""

from __future__ import annotations

import numpy as np

from contractor.engine.rostering import costs
from contractor.engine.rostering.document import Instance
from contractor.engine.rostering.table import ALONE, Ints, OptionTable, sorted_table


def with_pairs(instance: Instance, table: OptionTable) -> OptionTable:
    """Return ``table`` with an option for every pair of jobs that saves driving.

    All of them, or the bound over the table would not hold for every plan.
    """
    half = np.flatnonzero((table.length == 1) & (table.mate == ALONE))
    mornings = half[table.start[half] % 2 == 0]
    afternoons: dict[tuple[int, int], list[int]] = {}
    for row in half[table.start[half] % 2 == 1].tolist():
        key = int(table.crew[row]), int(table.start[row])
        afternoons.setdefault(key, []).append(row)
    savings = _Savings(instance)
    pairs = [
        (first, second, saved)
        for first in mornings.tolist()
        for second, saved in savings.partners(table, first, afternoons)
    ]
    return _appended(table, pairs) if pairs else table


class _Savings:
    """Cost saved by sharing the drive, computed once per crew and pair of jobs."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.known: dict[tuple[int, int, int], int] = {}

    def saved(self, crew: int, first: int, second: int) -> int:
        key = (crew, min(first, second), max(first, second))
        if key not in self.known:
            team = self.instance.crews[crew]
            jobs = [self.instance.jobs[job] for job in key[1:]]
            apart = sum(costs.travel_cost(self.instance, team, job, 1) for job in jobs)
            shared = costs.shared_travel_cost(self.instance, team, jobs[0], jobs[1])
            self.known[key] = apart - shared
        return self.known[key]

    def partners(
        self, table: OptionTable, first: int, afternoons: dict[tuple[int, int], list[int]]
    ) -> list[tuple[int, int]]:
        crew, job = int(table.crew[first]), int(table.job[first])
        rivals = afternoons.get((crew, int(table.start[first]) + 1), [])
        found = [
            (-self.saved(crew, job, int(table.job[row])), row)
            for row in rivals
            if int(table.job[row]) != job
        ]
        return [(row, -saved) for saved, row in sorted(found) if saved < 0]


def merged(table: OptionTable, rows: list[int]) -> list[int]:
    """The same visits with every two that share a crew-day priced as a pair."""
    if not table.has_pairs:
        return rows
    singles = {
        (int(table.crew[row]), int(table.start[row])): row for row in rows if table.length[row] == 1
    }
    result = set(rows)
    for (crew, start), first in singles.items():
        second = singles.get((crew, start + 1)) if start % 2 == 0 else None
        if second is not None:
            pair = _pair_row(table, first, second)
            if pair is not None:
                result = result - {first, second} | {pair}
    return sorted(result)


def _pair_row(table: OptionTable, first: int, second: int) -> int | None:
    found = np.flatnonzero(
        (table.job == table.job[first])
        & (table.mate == table.job[second])
        & (table.crew == table.crew[first])
        & (table.start == table.start[first])
    )
    return int(found[0]) if len(found) else None


def _appended(table: OptionTable, pairs: list[tuple[int, int, int]]) -> OptionTable:
    first, second, saved = (np.array(column, np.int64) for column in zip(*pairs, strict=True))
    added: dict[str, Ints] = {
        "job": table.job[first],
        "mate": table.job[second],
        "crew": table.crew[first],
        "start": table.start[first],
        "length": np.full(len(first), 2, np.int64),
        "cost": table.cost[first] + table.cost[second] - saved,
    }
    columns = {
        name: np.concatenate((getattr(table, name), values)) for name, values in added.items()
    }
    return sorted_table(columns, table.unplanned, table.spans)
