"""Neighbourhood search and the exact finish, taking turns until the gap closes."""

from __future__ import annotations

import random

import numpy as np

from contractor.engine.rostering.exact import Solved, solve_part, whole_bound
from contractor.engine.rostering.neighbourhoods import Neighbours
from contractor.engine.rostering.part import Part, part_of
from contractor.engine.rostering.relaxation import SCALE, Relaxed
from contractor.engine.rostering.search import Search
from contractor.engine.rostering.submodel import improve_part
from contractor.engine.rostering.table import Ints

SIZES = (25, 40, 65, 100)  # jobs per neighbourhood; a stall moves on to the next
CP_SAT_JOBS = 40  # up to here CP-SAT, above branch and bound (bench: twice as fast there)
ROWS_PER_JOB = 45
STALL = 15  # rounds without a better plan
PART_SECONDS = 4.0
PART_NODES = 60
SMALL = 6_000  # rows that are tried exactly at once
MEDIUM = 15_000  # rows that are tried exactly when the search has stalled
EXACT_NODES = 3_000
EXACT_SHARE = 0.6  # of the time left may go to one attempt at proof


class Improver:
    """Improves the plan of ``search`` with what the relaxation knows."""

    def __init__(self, search: Search, relaxed: Relaxed, seed: int) -> None:
        self.search, self.relaxed = search, relaxed
        self.rng = random.Random(seed)
        table = search.table
        spare = table.unplanned - relaxed.job_prices // SCALE
        self.neighbours = Neighbours.of(table, relaxed.detour // SCALE, spare)
        self.rounds_left = search.limits.rounds

    def run(self) -> None:
        """Search until stopped, proven, or out of rounds."""
        if len(self.promising()) <= SMALL:
            self.finish()
        while not self._is_done():
            for size in SIZES:
                self._search(min(size, self.search.table.job_count))
                if not self._is_done() and len(self.promising()) <= MEDIUM:
                    self.finish()

    def _is_done(self) -> bool:
        return self.search.should_stop() or self.rounds_left == 0

    def promising(self) -> Ints:
        """Rows that a cheaper plan could use: all others cost too much even at best."""
        room = (self.search.cost - 1) * SCALE - self.relaxed.scaled_bound
        return np.flatnonzero(self.relaxed.detour <= room)

    def _search(self, size: int) -> None:
        """Rounds with neighbourhoods of ``size`` jobs until they stall."""
        idle = 0
        while idle < STALL and not self._is_done():
            idle = 0 if self._round(size) else idle + 1

    def _round(self, size: int) -> bool:
        search = self.search
        if self.rounds_left is not None:
            self.rounds_left -= 1
        part = self.neighbours.draw(search.rows, size, ROWS_PER_JOB * size, self.rng)
        rows = self._solve(part, len(part.jobs) <= CP_SAT_JOBS)
        if rows is None:
            return False
        kept = [row for row in search.rows if row not in part.current]
        return search.offer(kept + rows, "neighbourhoods")

    def _solve(self, part: Part, by_cp_sat: bool) -> list[int] | None:
        timed = None if self.search.limits.is_deterministic else self.search.left(PART_SECONDS)
        if by_cp_sat:
            seed = self.rng.randrange(2**31)
            return improve_part(part, work=PART_SECONDS / 2, seconds=timed, seed=seed)
        return solve_part(part, stop=self.search.is_over, seconds=timed, nodes=PART_NODES).rows

    def finish(self) -> None:
        """Solve what reduced costs leave of the problem, to proof if time allows."""
        search, table = self.search, self.search.table
        too_dear = table.unplanned * SCALE - self.relaxed.job_prices + self.relaxed.scaled_bound
        planned = {job for row in search.rows for job in table.jobs_of(row)}
        must = np.flatnonzero(too_dear > (search.cost - 1) * SCALE).tolist()
        part = part_of(
            table,
            self.promising(),
            set(search.rows),
            frozenset(job for job in must if job in planned),
        )
        timed = search.limits.seconds is not None
        solved = solve_part(
            part,
            stop=search.is_over,
            seconds=EXACT_SHARE * search.left(float("inf")) if timed else None,
            nodes=EXACT_NODES if search.limits.is_deterministic else None,
        )
        self._take_over(part, solved)

    def _take_over(self, part: Part, solved: Solved) -> None:
        """Use the rows and the bound: every cheaper plan lies within ``part``."""
        search = self.search
        outside = search.table.unplanned.sum() - search.table.unplanned[part.jobs].sum()
        bound = whole_bound(solved.bound) + int(outside)
        if solved.rows is not None:
            search.offer(solved.rows, "exact")
        search.raise_bound(search.cost if solved.is_proven else bound, "exact")
