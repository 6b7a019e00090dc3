"""The fewest promised visits that must change, with a proof where one is found.

A lost visit weighs more than any number of moved ones. First only the visits that cannot
stay are placed anew; when that works, no plan can do with fewer. Otherwise lost visits are
placed by moving others, then the whole problem is solved with moves as its cost.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

import numpy as np

from contractor.engine.rostering.neighbourhoods import Neighbours
from contractor.engine.rostering.optimize import optimize
from contractor.engine.rostering.part import part_of
from contractor.engine.rostering.search import Limits, Search
from contractor.engine.rostering.submodel import improve_part
from contractor.engine.rostering.table import ALONE, Bools, Ints, OptionTable, Room

WORK = 20.0
SECONDS = 5.0
REPAIRS = 12  # rounds, each of so many jobs and so much work
REPAIR_JOBS = 40
REPAIR_WORK = 1.0
ROWS_PER_JOB = 45
LOST_FIRST = 1000  # rounds start from a lost visit far more often than from another
SHARE = 0.3  # of the time may go to the moves where that is not proven at once


@dataclass(frozen=True)
class Standing:
    """What was published, in the numbers of the table.

    ``rows`` has the row of each job's published visit where that is still legal by itself;
    ``promised`` marks the jobs whose change counts, ``moves`` counts per row how many
    promised jobs the row takes away from where they were.
    """

    rows: dict[int, int]
    promised: Bools
    moves: Ints

    def changes(self, table: OptionTable, rows: list[int]) -> tuple[int, int]:
        """Promised jobs that ``rows`` move or leave out, and those they leave out."""
        planned = {job for row in rows for job in table.jobs_of(row)}
        lost = sum(1 for job in np.flatnonzero(self.promised).tolist() if job not in planned)
        return int(self.moves[rows].sum()) + lost, lost


def standing_of(
    table: OptionTable, slots: dict[int, tuple[int, int]], promised: frozenset[int]
) -> Standing:
    """``slots`` has the crew number and start half-day of each published visit."""
    crew = np.full(table.job_count + 1, -1, np.int64)
    start = np.full(table.job_count + 1, -1, np.int64)
    told = np.zeros(table.job_count + 1, np.bool_)  # the last entry stands for no mate
    for job, (at_crew, at_start) in slots.items():
        crew[job], start[job] = at_crew, at_start
    told[sorted(promised)] = True
    stays = (table.crew == crew[table.job]) & (table.start == start[table.job])
    mate_stays = (table.crew == crew[table.mate]) & (table.start + 1 == start[table.mate])
    moves = (told[table.job] & ~stays).astype(np.int64) + (told[table.mate] & ~mate_stays)
    where = np.flatnonzero(stays & (table.mate == ALONE))
    rows = dict(zip(table.job[where].tolist(), where.tolist(), strict=True))
    return Standing(rows, told[:-1], moves)


@dataclass(frozen=True)
class FewestMoves:
    """A plan of the promised jobs alone; ``moves`` counts the ``lost`` ones too."""

    rows: list[int]
    moves: int
    lost: int
    is_proven: bool


def fewest_moves(table: OptionTable, standing: Standing, limits: Limits) -> FewestMoves:
    """Return a plan of the promised jobs that keeps as many as possible where they were."""
    moving = _move_table(table, standing)
    kept, free = undisputed(moving, standing)
    wanted = np.flatnonzero(np.isin(table.job, free) & (table.mate == ALONE))
    part = part_of(moving, Room(moving, kept).fitting(wanted), set())
    seconds = None if limits.is_deterministic else SECONDS
    placed = improve_part(part, work=WORK, seconds=seconds, seed=0)
    rows = _repaired(table, moving, standing, kept + (placed.rows if placed else []), limits)
    moves, lost = standing.changes(table, rows)
    if lost == 0 and moves <= _least(moving, standing, free):
        return FewestMoves(rows, moves, lost, True)
    search = Search(moving, rows, _shared(limits), lambda progress: None)
    optimize(search, np.array(rows, np.int64), 0)
    moves, lost = standing.changes(table, search.rows)
    return FewestMoves(search.rows, moves, lost, search.is_proven)


def _repaired(
    table: OptionTable, moving: OptionTable, standing: Standing, rows: list[int], limits: Limits
) -> list[int]:
    """Place lost visits by moving a few of those that stand in their way."""
    neighbours = Neighbours.of(moving, table.cost, moving.unplanned * LOST_FIRST)
    rng = random.Random(0)
    for _ in range(REPAIRS):
        if not standing.changes(table, rows)[1] or limits.cancelled():
            break
        part = neighbours.draw(rows, REPAIR_JOBS, ROWS_PER_JOB * REPAIR_JOBS, rng)
        seconds = None if limits.is_deterministic else SECONDS
        found = improve_part(part, work=REPAIR_WORK, seconds=seconds, seed=0)
        if found is not None:
            rows = [row for row in rows if row not in part.current] + found.rows
    return rows


def _shared(limits: Limits) -> Limits:
    """Leave time for the search that makes the plan cheap again."""
    return limits if limits.seconds is None else replace(limits, seconds=SHARE * limits.seconds)


def _move_table(table: OptionTable, standing: Standing) -> OptionTable:
    """Staying costs 0, moving 1, being lost more than moving everybody."""
    lost = (int(standing.promised.sum()) + 1) * standing.promised.astype(np.int64)
    return replace(table, cost=standing.moves, unplanned=lost)


def undisputed(table: OptionTable, standing: Standing) -> tuple[list[int], list[int]]:
    """Rows of promised visits that nobody else's published visit touches, and the promised
    jobs that are not among them."""
    promised = np.flatnonzero(standing.promised).tolist()
    rows = [standing.rows[job] for job in promised if job in standing.rows]
    use = np.zeros(table.cell_count, np.int64)
    for row in rows:
        use[table.cell[row] : table.cell[row] + table.length[row]] += 1
    kept = [
        row for row in rows if use[table.cell[row] : table.cell[row] + table.length[row]].max() == 1
    ]
    stay = {int(table.job[row]) for row in kept}
    return kept, [job for job in promised if job not in stay]


def _least(table: OptionTable, standing: Standing, free: list[int]) -> int:
    """A lower bound on the moves: visits that are illegal, and one of every two that
    collide, counted by scanning each crew's half-days (intervals: the greedy is exact)."""
    colliding = sorted(
        (standing.rows[job] for job in free if job in standing.rows),
        key=lambda row: int(table.cell[row] + table.length[row]),
    )
    end, stay = -1, 0
    for row in colliding:
        if int(table.cell[row]) >= end:
            end = int(table.cell[row] + table.length[row])
            stay += 1
    return len(free) - stay
