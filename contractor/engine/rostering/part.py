"""A part of the problem: some options and the jobs they are for, the rest of the plan fixed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from contractor.engine.rostering.table import ALONE, Bools, Ints, OptionTable


@dataclass(frozen=True)
class Part:
    """Choose among ``rows`` for ``jobs``; each job once or left out, half-days once.

    ``current`` are the rows in use now, all among ``rows``. Jobs in ``must`` may not be
    left out. ``rows`` and ``jobs`` are sorted.
    """

    table: OptionTable
    rows: Ints
    jobs: Ints
    current: frozenset[int]
    must: frozenset[int] = frozenset()

    @property
    def current_jobs(self) -> set[int]:
        return {job for row in self.current for job in self.table.jobs_of(row)}

    def in_use(self) -> Ints:
        """1 for the current rows, then 1 for the jobs left out now."""
        planned = self.current_jobs
        rows = [int(row in self.current) for row in self.rows.tolist()]
        return np.array(rows + [int(job not in planned) for job in self.jobs.tolist()], np.int64)


def part_of(
    table: OptionTable, rows: Ints, current: set[int], must: frozenset[int] = frozenset()
) -> Part:
    """The part made of ``rows``, the ``current`` ones among them, and their jobs."""
    every = np.unique(np.concatenate((rows, np.array(sorted(current), np.int64))))
    mates = table.mate[every]
    jobs = np.unique(np.concatenate((table.job[every], mates[mates != ALONE])))
    return Part(table, every, jobs, frozenset(current), must)


@dataclass(frozen=True)
class Cap:
    """At most ``moves`` promised jobs away from where they were, ``lost`` of them left out.

    ``moves_of`` counts per row of the table how many promised jobs it moves.
    """

    moves_of: Ints
    promised: Bools
    moves: int
    lost: int
    is_least: bool = False  # no plan moves fewer; cheaper ones exist only above the cap

    def elsewhere(self, part: Part, rows: list[int]) -> Cap:
        """What is left of the cap for ``part`` when ``rows`` outside it stay."""
        used = int(self.moves_of[rows].sum())
        planned = {job for row in rows for job in part.table.jobs_of(row)} | set(part.jobs.tolist())
        lost = sum(1 for job in np.flatnonzero(self.promised).tolist() if job not in planned)
        return replace(self, moves=self.moves - used - lost, lost=self.lost - lost)
