"""Which jobs to reconsider together: those that stand in each other's way.

Large neighbourhood search after Shaw 1998 (Principles and Practice of Constraint
Programming, LNCS 1520, 417-431): take some jobs out, put them back in the best way.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from contractor.engine.rostering.part import Part, part_of
from contractor.engine.rostering.table import ALONE, Ints, OptionTable, Room

NEXT_TO = 6  # promising options looked at per job when neighbours are gathered


@dataclass(frozen=True)
class Neighbours:
    """Options ordered by how little they cost beyond the bound's own schedules.

    ``detour`` and ``spare`` are in cost units: per row, and per job left out.
    """

    table: OptionTable
    detour: Ints
    spare: Ints
    by_job: tuple[Ints, ...]

    @classmethod
    def of(cls, table: OptionTable, detour: Ints, spare: Ints) -> Neighbours:
        order = np.lexsort((detour, table.job))
        firsts = np.searchsorted(table.job[order], np.arange(table.job_count + 1))
        lists = tuple(order[a:b] for a, b in pairwise(firsts))
        return cls(table, detour, spare, lists)

    def draw(self, rows: list[int], size: int, most_rows: int, rng: random.Random) -> Part:
        """A part of about ``size`` jobs around one that costs more than it might."""
        table = self.table
        row_of = {job: row for row in rows for job in table.jobs_of(row)}
        jobs = self._gather(rows, row_of, size, rng)
        current = {row_of[job] for job in jobs if job in row_of}
        jobs |= {job for row in current for job in table.jobs_of(row)}
        room = Room(table, (row for row in rows if row not in current))
        wanted = np.concatenate([self.by_job[job] for job in sorted(jobs)])
        fitting = room.fitting(wanted)
        alone = table.mate[fitting] == ALONE
        inside = np.isin(table.mate[fitting], sorted(jobs))
        fitting = fitting[alone | inside]
        best = fitting[np.argsort(self.detour[fitting], kind="stable")][:most_rows]
        return part_of(table, best, current)

    def _gather(
        self, rows: list[int], row_of: dict[int, int], size: int, rng: random.Random
    ) -> set[int]:
        owner = self._owners(rows)
        queue = [self._dear_job(row_of, rng)]
        jobs = set(queue)
        for job in queue:
            if len(jobs) >= size:
                break
            for other in self._rivals(job, owner, rng):
                if other not in jobs and len(jobs) < size:
                    jobs.add(other)
                    queue.append(other)
        return jobs

    def _dear_job(self, row_of: dict[int, int], rng: random.Random) -> int:
        """A job at random, the likelier the more it costs beyond the bound."""
        dear = [
            max(0, int(self.detour[row_of[job]] if job in row_of else self.spare[job])) + 1
            for job in range(self.table.job_count)
        ]
        return rng.choices(range(len(dear)), weights=dear)[0]

    def _owners(self, rows: list[int]) -> Ints:
        owner = np.full(self.table.cell_count, -1, np.int64)
        for row in rows:
            first = int(self.table.cell[row])
            owner[first : first + int(self.table.length[row])] = self.table.job[row]
        return owner

    def _rivals(self, job: int, owner: Ints, rng: random.Random) -> list[int]:
        """Jobs that hold the half-days of good options of ``job``, in a shuffled order."""
        rows = self.by_job[job]
        if not len(rows):
            return []
        ahead = rows[: 4 * NEXT_TO].tolist()
        picked = ahead[:NEXT_TO] + rng.sample(ahead[NEXT_TO:], min(2, len(ahead[NEXT_TO:])))
        found: list[int] = []
        for row in picked:
            first = int(self.table.cell[row])
            cells = owner[first : first + int(self.table.length[row])]
            found += [other for other in cells.tolist() if other >= 0]
        rng.shuffle(found)
        return found
