"""A published plan brought back in line with what happened, changing as little as it can.

Two modes. ``penalty``: the cheapest plan with the price of every change in it, among plans
that lose no visit needlessly and move at most a tenth of the promised ones (or as few as
must move). ``fewest-moves``: as few changes as possible, then the cheapest such plan.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from contractor.engine.rostering.changes import changes_of
from contractor.engine.rostering.document import HALVES, Instance
from contractor.engine.rostering.events import Event
from contractor.engine.rostering.fewest_moves import (
    FewestMoves,
    Standing,
    fewest_moves,
    standing_of,
)
from contractor.engine.rostering.improve import Improver
from contractor.engine.rostering.optimize import BOUND_SHARE, visits_of
from contractor.engine.rostering.options import build_options
from contractor.engine.rostering.part import Cap, part_of
from contractor.engine.rostering.plan_document import Change, InstallPlan, Visit, plan_cost
from contractor.engine.rostering.relaxation import solve_relaxation
from contractor.engine.rostering.search import Limits, Progress, Search
from contractor.engine.rostering.situation import Situation, situation_of
from contractor.engine.rostering.submodel import improve_part
from contractor.engine.rostering.table import OptionTable, Room

Mode = Literal["penalty", "fewest-moves"]
MODES: tuple[Mode, Mode] = ("penalty", "fewest-moves")
MOST_MOVED = 0.10  # of the promised visits, unless more have to move
LOCAL_JOBS = 60
LOCAL_WORK = 30.0
LOCAL_SECONDS = 6.0


@dataclass(frozen=True)
class Replan:
    """``plan`` covers the whole instance; its ``changes`` are those to promised visits.

    ``tentative`` has the changes to visits that nobody was told about, ``added`` the jobs
    that were not planned before. ``moves`` counts changed promised visits; at least
    ``fewest`` must change whatever the plan (proven when ``is_fewest_proven``).
    """

    plan: InstallPlan
    tentative: Mapping[str, Change]
    added: tuple[str, ...]
    untouched: tuple[str, ...]
    moves: int
    fewest: int
    is_fewest_proven: bool


def replan(
    instance: Instance,
    published: Iterable[Visit],
    events: Iterable[Event],
    *,
    mode: Mode = "penalty",
    now: date | None = None,
    tentative: frozenset[str] = frozenset(),
    seconds: float | None = 18.0,
    rounds: int | None = None,
    seed: int = 0,
    clock: Callable[[], float] = time.monotonic,
    progress: Callable[[Progress], None] = lambda progress: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Replan:
    """Return a new plan after ``events``; visits that started before ``now`` stay.

    Every published visit counts as confirmed but the ``tentative`` jobs. Without an event
    that concerns it a legal plan is returned as it is. Time and work limits as in ``plan``.
    """
    limits = Limits(clock, None if rounds is not None else seconds, rounds, cancelled)
    began, visits = clock(), tuple(published)
    situation = situation_of(instance, visits, tuple(events), now, tentative)
    table = build_options(situation.open)
    standing = _standing(situation, table)
    fewest = fewest_moves(table, standing, limits)
    task = _Task(situation, table, standing, fewest, limits, progress, began)
    search = task.search(mode)
    if situation.events or fewest.moves:
        task.solve(search, mode, seed)
    else:
        task.bound(search)
    return _report(task, search, seed)


def _standing(situation: Situation, table: OptionTable) -> Standing:
    instance = situation.open
    jobs = {job.id: number for number, job in enumerate(instance.jobs)}
    crews = {crew.id: number for number, crew in enumerate(instance.crews)}
    slots: dict[int, tuple[int, int]] = {}
    for visit in [*situation.promised.values(), *situation.tentative.values()]:
        calendar = instance.calendar_of(instance.crew_of[visit.crew])
        day = calendar.index_of.get(visit.date)
        start = -1 if day is None else 2 * day + HALVES.index(visit.half)
        slots[jobs[visit.job]] = crews[visit.crew], start
    return standing_of(table, slots, frozenset(jobs[job] for job in situation.promised))


class _Task:
    """One re-plan: the fewest-moves plan is the start, cost decides within the cap."""

    def __init__(
        self,
        situation: Situation,
        table: OptionTable,
        standing: Standing,
        fewest: FewestMoves,
        limits: Limits,
        progress: Callable[[Progress], None],
        began: float,
    ) -> None:
        self.situation, self.table, self.standing = situation, table, standing
        self.fewest, self.limits = fewest, limits
        self.progress, self.began = progress, began

    def search(self, mode: Mode) -> Search:
        """A search that starts from the fewest moves, with everybody else put around them."""
        promised = int(self.standing.promised.sum())
        allowed = max(self.fewest.moves, int(MOST_MOVED * promised))
        self.most = self.fewest.moves if mode == "fewest-moves" else allowed

        def accepts(rows: list[int]) -> bool:
            moves, lost = self.standing.changes(self.table, rows)
            return moves <= self.most and lost <= self.fewest.lost

        search = Search(self.table, self._start(), self.limits, self.progress, accepts)
        search.begun = self.began
        search.say("fewest moves")
        return search

    def _start(self) -> list[int]:
        """The fewest-moves plan, tentative visits where they were, others where they fit."""
        room = Room(self.table, self.fewest.rows)
        for job, row in sorted(self.standing.rows.items()):
            if room.waiting[job]:
                room.take(row)
        order = np.lexsort((self.table.cost, self.table.job))
        for row in room.fitting(order).tolist():
            if self.table.cost[row] < self.table.unplanned[list(self.table.jobs_of(row))].sum():
                room.take(row)
        return room.rows

    def solve(self, search: Search, mode: Mode, seed: int) -> None:
        self._settle(search, seed)
        relaxed = solve_relaxation(
            self.table,
            np.array(search.rows, np.int64),
            lambda: search.is_over(BOUND_SHARE),
            lambda bound: search.raise_bound(bound, "bound"),
        )
        search.raise_bound(relaxed.bound, "bound")
        if not search.should_stop():
            Improver(search, relaxed, seed, self._cap()).run()

    def bound(self, search: Search) -> None:
        relaxed = solve_relaxation(
            self.table,
            np.array(search.rows, np.int64),
            search.should_stop,
            lambda bound: search.raise_bound(bound, "bound"),
        )
        search.raise_bound(relaxed.bound, "bound")

    def _cap(self) -> Cap:
        promised, fewest = self.standing.promised, self.fewest
        is_least = self.most == fewest.moves
        return Cap(self.standing.moves, promised, self.most, fewest.lost, is_least)

    def _settle(self, search: Search, seed: int) -> None:
        """The best plan when only the jobs that moved, and those without a promise, may."""
        table = self.table
        stays = {row for row in search.rows if self._stays(row)}
        room = Room(table, sorted(stays))
        rows = room.fitting(np.arange(len(table)))
        rows = rows[np.argsort(table.cost[rows], kind="stable")]
        part = part_of(table, rows, set(search.rows) - stays)
        timed = None if self.limits.is_deterministic else search.left(LOCAL_SECONDS)
        cap = self._cap().elsewhere(part, sorted(stays))
        found = improve_part(part, work=LOCAL_WORK, seconds=timed, seed=seed, cap=cap)
        if found is not None:
            search.offer(sorted(stays) + found.rows, "moved jobs")

    def _stays(self, row: int) -> bool:
        jobs = self.table.jobs_of(row)
        return bool(self.standing.promised[list(jobs)].all()) and self.standing.moves[row] == 0


def _report(task: _Task, search: Search, seed: int) -> Replan:
    situation = task.situation
    placed = visits_of(situation.open, task.table, search.rows)
    after = {visit.job: visit for visit in placed}
    everything = {visit.job: visit for visit in (*placed, *situation.started)}
    visits = tuple(everything[j.id] for j in situation.after.jobs if j.id in everything)
    cost = plan_cost(situation.after, visits)
    changes = changes_of(situation, situation.promised, after)
    plan = InstallPlan(
        visits=visits,
        cost=cost,
        bound=search.bound + cost - search.cost,
        proven=search.is_proven,
        seconds=0.0 if task.limits.is_deterministic else search.elapsed,
        seed=seed,
        changes=changes,
    )
    before = {**situation.promised, **situation.tentative}
    return Replan(
        plan=plan,
        tentative=changes_of(situation, situation.tentative, after),
        added=tuple(visit.job for visit in placed if visit.job not in before),
        untouched=tuple(job for job in situation.promised if job not in changes),
        moves=len(changes),
        fewest=task.fewest.moves,
        is_fewest_proven=task.fewest.is_proven,
    )
