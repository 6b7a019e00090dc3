"""Legal options as one table: a row is a job (or two sharing a day) on a crew's half-days."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
ALONE = -1


@dataclass(frozen=True)
class OptionTable:
    """Rows sorted by crew, start, length, job, mate; all arrays have one entry per row.

    ``job`` and ``crew`` are positions in the instance, ``mate`` is the second job of a
    shared crew-day or ``ALONE``. ``start`` and ``length`` count half-days of the crew's
    calendar, ``cost`` is whole. ``unplanned`` has the cost of leaving each job out,
    ``spans`` the number of half-days of each crew.
    """

    job: Ints
    mate: Ints
    crew: Ints
    start: Ints
    length: Ints
    cost: Ints
    unplanned: Ints
    spans: Ints

    def __len__(self) -> int:
        return len(self.job)

    @property
    def job_count(self) -> int:
        return len(self.unplanned)

    @property
    def crew_count(self) -> int:
        return len(self.spans)

    @cached_property
    def end(self) -> Ints:
        return self.start + self.length

    @cached_property
    def first_cell(self) -> Ints:
        """Number of the first half-day of each crew when all crews are laid end to end."""
        return np.concatenate((np.zeros(1, np.int64), np.cumsum(self.spans)[:-1]))

    @property
    def cell_count(self) -> int:
        return int(self.spans.sum())

    @cached_property
    def cell(self) -> Ints:
        """The first cell that each row occupies."""
        return self.first_cell[self.crew] + self.start

    @cached_property
    def has_pairs(self) -> bool:
        return bool((self.mate != ALONE).any())

    def rows(self, keep: Ints | Bools) -> OptionTable:
        """The same jobs and crews with only the rows that ``keep`` selects."""
        return OptionTable(
            self.job[keep],
            self.mate[keep],
            self.crew[keep],
            self.start[keep],
            self.length[keep],
            self.cost[keep],
            self.unplanned,
            self.spans,
        )

    def jobs_of(self, row: int) -> tuple[int, ...]:
        mate = int(self.mate[row])
        return (int(self.job[row]),) if mate == ALONE else (int(self.job[row]), mate)

    def cost_of(self, rows: list[int]) -> int:
        """Cost of a plan that uses ``rows``: theirs, and every other job left out."""
        planned = [job for row in rows for job in self.jobs_of(row)]
        left_out = self.unplanned.sum() - self.unplanned[planned].sum()
        return int(self.cost[rows].sum() + left_out)


class Room:
    """Which half-days and jobs a growing plan has left."""

    def __init__(self, table: OptionTable, rows: Iterable[int] = ()) -> None:
        self.table = table
        self.free = np.ones(table.cell_count, np.bool_)
        self.waiting = np.ones(table.job_count, np.bool_)
        self.rows: list[int] = []
        for row in rows:
            self.take(row)

    def _cells(self, row: int) -> slice:
        first = int(self.table.cell[row])
        return slice(first, first + int(self.table.length[row]))

    def fits(self, row: int) -> bool:
        waits = all(self.waiting[job] for job in self.table.jobs_of(row))
        return waits and bool(self.free[self._cells(row)].all())

    def take(self, row: int) -> bool:
        """Add ``row`` to the plan if its half-days are free and its jobs still wait."""
        if not self.fits(row):
            return False
        self._set(row, False)
        self.rows.append(row)
        return True

    def drop(self, row: int) -> None:
        self._set(row, True)
        self.rows.remove(row)

    def _set(self, row: int, value: bool) -> None:
        self.free[self._cells(row)] = value
        self.waiting[list(self.table.jobs_of(row))] = value

    def fitting(self, rows: Ints) -> Ints:
        """Those of ``rows`` that could be taken now, each by itself."""
        table = self.table
        taken = np.concatenate((np.zeros(1, np.int64), np.cumsum(~self.free)))
        cell = table.cell[rows]
        ok = taken[cell + table.length[rows]] == taken[cell]
        ok &= self.waiting[table.job[rows]]
        mate = table.mate[rows]
        ok &= (mate == ALONE) | self.waiting[mate]
        fitting: Ints = rows[ok]
        return fitting


def sorted_table(columns: dict[str, Ints], unplanned: Ints, spans: Ints) -> OptionTable:
    order = np.lexsort(tuple(columns[name] for name in ("mate", "job", "length", "start", "crew")))
    ordered = {name: values[order] for name, values in columns.items()}
    return OptionTable(**ordered, unplanned=unplanned, spans=spans)
