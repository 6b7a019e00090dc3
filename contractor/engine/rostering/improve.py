"""Neighbourhood search and the exact finish, taking turns until the gap closes."""

from __future__ import annotations

import random

import numpy as np

from contractor.engine.rostering.exact import Solved, solve_part, whole_bound
from contractor.engine.rostering.neighbourhoods import Neighbours
from contractor.engine.rostering.part import Cap, Part, part_of
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

    def __init__(self, search: Search, relaxed: Relaxed, seed: int, cap: Cap | None = None) -> None:
        self.search, self.relaxed, self.cap = search, relaxed, cap
        self.rng = random.Random(seed)
        table = search.table
        spare = table.unplanned - relaxed.job_prices // SCALE
        self.neighbours = Neighbours.of(table, relaxed.detour // SCALE, spare)
        self.rounds_left = search.limits.rounds
        self.is_settled = False  # nothing is left to learn from another exact attempt

    def run(self) -> None:
        """Search until stopped, proven, or out of rounds."""
        if len(self.promising()) <= SMALL:
            self.finish()
        while not self._is_done():
            for size in SIZES:
                self._search(min(size, self.search.table.job_count))
                if self._may_finish():
                    self.finish()

    def _is_done(self) -> bool:
        return self.is_settled or self.rounds_left == 0 or self.search.should_stop()

    def _may_finish(self) -> bool:
        return not self._is_done() and len(self.promising()) <= MEDIUM

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
        kept = [row for row in search.rows if row not in part.current]
        rows = self._solve(part, kept)
        return rows is not None and search.offer(kept + rows, "neighbourhoods")

    def _solve(self, part: Part, kept: list[int]) -> list[int] | None:
        timed = None if self.search.limits.is_deterministic else self.search.left(PART_SECONDS)
        if self.cap is not None or len(part.jobs) <= CP_SAT_JOBS:
            seed, work = self.rng.randrange(2**31), PART_SECONDS / 2
            cap = self.cap.elsewhere(part, kept) if self.cap is not None else None
            found = improve_part(part, work=work, seconds=timed, seed=seed, cap=cap)
            return found.rows if found else None
        stop = self.search.is_over
        return solve_part(part, stop=stop, seconds=timed, nodes=PART_NODES).rows

    def finish(self) -> None:
        """Solve what reduced costs leave of the problem, to proof if time allows."""
        part = self._remaining()
        if self.cap is None or not self.cap.is_least:
            self._take_over(part, self._solve_exactly(part, None))
        if self.cap is not None and not self.search.should_stop():
            solved = self._solve_exactly(part, self.cap.elsewhere(part, []))
            if solved.rows is not None:
                self.search.offer(solved.rows, "exact")
            self.is_settled = solved.is_proven

    def _remaining(self) -> Part:
        """The options and jobs of every plan that is cheaper than the one at hand."""
        search, table = self.search, self.search.table
        too_dear = table.unplanned * SCALE - self.relaxed.job_prices + self.relaxed.scaled_bound
        planned = {job for row in search.rows for job in table.jobs_of(row)}
        must = np.flatnonzero(too_dear > (search.cost - 1) * SCALE).tolist()
        needed = frozenset(job for job in must if job in planned)
        return part_of(table, self.promising(), set(search.rows), needed)

    def _solve_exactly(self, part: Part, cap: Cap | None) -> Solved:
        limits = self.search.limits
        return solve_part(
            part,
            stop=self.search.is_over,
            seconds=self._exact_seconds(),
            nodes=EXACT_NODES if limits.is_deterministic else None,
            cap=cap,
        )

    def _exact_seconds(self) -> float | None:
        if self.search.limits.seconds is None:
            return None
        return EXACT_SHARE * self.search.left(float("inf"))

    def _take_over(self, part: Part, solved: Solved) -> None:
        """Use the rows and the bound: every cheaper plan lies within ``part``."""
        search = self.search
        outside = search.table.unplanned.sum() - search.table.unplanned[part.jobs].sum()
        bound = whole_bound(solved.bound) + int(outside)
        if solved.rows is not None:
            search.offer(solved.rows, "exact")
            if solved.is_proven:
                bound = search.table.cost_of(solved.rows)
        self.is_settled = solved.is_proven and self.cap is None
        search.raise_bound(bound, "exact")
