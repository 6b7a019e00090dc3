"""Legal options as one table: a row is a job (or two sharing a day) on a crew's half-days."""

from __future__ import annotations

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


def sorted_table(columns: dict[str, Ints], unplanned: Ints, spans: Ints) -> OptionTable:
    order = np.lexsort(tuple(columns[name] for name in ("mate", "job", "length", "start", "crew")))
    ordered = {name: values[order] for name, values in columns.items()}
    return OptionTable(**ordered, unplanned=unplanned, spans=spans)
