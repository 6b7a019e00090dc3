"""Eight dispatch rules: how a planner without a solver fills the crews' half-days.

Confirmed visits are kept first where they still are legal. Then time runs forward, and
every crew that is free takes the job with the highest priority among those it may start
there. The rules are those of the scheduling literature; see Pinedo, Scheduling: Theory,
Algorithms, and Systems, 5th edition 2016, section 14.1 and its appendix of dispatching
rules, and the paper named beside each.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from contractor.engine.rostering import costs
from contractor.engine.rostering.document import HALVES, Instance
from contractor.engine.rostering.legality import earliest_day
from contractor.engine.rostering.table import ALONE, Ints, OptionTable, Room

Floats = NDArray[np.float64]
LOOK_AHEAD = 2.0  # the k of apparent tardiness cost; 2 is usual for moderate load


@dataclass(frozen=True)
class Facts:
    """Per job: due half-day, release half-day and tardiness weight; per row: drive minutes."""

    due: Ints
    release: Ints
    weight: Floats
    drive: Floats
    mean_length: float


@dataclass(frozen=True)
class RuleResult:
    """A plan by one rule: row numbers of the table, and its cost."""

    name: str
    rows: tuple[int, ...]
    cost: int


Priority = Callable[[OptionTable, Facts, Ints, int], Floats]


def _earliest_due_date(table: OptionTable, facts: Facts, rows: Ints, now: int) -> Floats:
    """EDD: Jackson 1955, Research Report 43, University of California, Los Angeles."""
    return -facts.due[table.job[rows]].astype(float)


def _severity(table: OptionTable, facts: Facts, rows: Ints, now: int) -> Floats:
    """Heaviest weight first; the earlier due day among equals."""
    job = table.job[rows]
    return facts.weight[job] * 1e6 - facts.due[job]


def _weighted_shortest(table: OptionTable, facts: Facts, rows: Ints, now: int) -> Floats:
    """WSPT: Smith 1956, Naval Research Logistics Quarterly 3, 59-66."""
    return facts.weight[table.job[rows]] / table.length[rows]


def _minimum_slack(table: OptionTable, facts: Facts, rows: Ints, now: int) -> Floats:
    """MS: least time to spare before the due day; Conway, Maxwell and Miller 1967, ch. 3."""
    return -(facts.due[table.job[rows]] - now - table.length[rows]).astype(float)


def _apparent_tardiness(table: OptionTable, facts: Facts, rows: Ints, now: int) -> Floats:
    """ATC: Vepsalainen and Morton 1987, Management Science 33, 1035-1047."""
    slack = np.maximum(0, facts.due[table.job[rows]] - now - table.length[rows])
    urgency: Floats = np.exp(-slack / (LOOK_AHEAD * facts.mean_length))
    return facts.weight[table.job[rows]] / table.length[rows] * urgency


def _critical_ratio(table: OptionTable, facts: Facts, rows: Ints, now: int) -> Floats:
    """CR: time left over work left, least first; Putnam and others 1971, Production and
    Inventory Management 12."""
    return -(facts.due[table.job[rows]] - now) / table.length[rows]


def _earliest_release(table: OptionTable, facts: Facts, rows: Ints, now: int) -> Floats:
    """ERD, first come first served: the job that could start first."""
    return -facts.release[table.job[rows]].astype(float)


def _nearest(table: OptionTable, facts: Facts, rows: Ints, now: int) -> Floats:
    """Shortest travel first, the shortest-setup rule with the drive as setup."""
    return -facts.drive[rows]


RULES: dict[str, Priority] = {
    "earliest due date": _earliest_due_date,
    "severity": _severity,
    "weighted shortest": _weighted_shortest,
    "minimum slack": _minimum_slack,
    "apparent tardiness cost": _apparent_tardiness,
    "critical ratio": _critical_ratio,
    "earliest release": _earliest_release,
    "nearest": _nearest,
}


def run_rules(instance: Instance, table: OptionTable) -> list[RuleResult]:
    """Return a plan by each of the eight rules, in their order."""
    facts = _facts(instance, table)
    return [_dispatch(instance, table, facts, name, rule) for name, rule in RULES.items()]


def best_rule(results: list[RuleResult]) -> RuleResult:
    return min(results, key=lambda result: result.cost)


def rows_used(results: list[RuleResult]) -> Ints:
    """Every row that some rule used, once."""
    return np.array(sorted({row for result in results for row in result.rows}), np.int64)


def _facts(instance: Instance, table: OptionTable) -> Facts:
    calendar, weights = instance.calendar, instance.weights
    drive = np.array(
        [[costs.drive_min(instance, crew, job) for crew in instance.crews] for job in instance.jobs]
    ).reshape(table.job_count, table.crew_count)
    return Facts(
        due=np.array([calendar.halfdays_through(job.due) for job in instance.jobs], np.int64),
        release=np.array(
            [2 * calendar.position(earliest_day(instance, job)) for job in instance.jobs],
            np.int64,
        ),
        weight=np.array([float(weights.sev[job.severity]) for job in instance.jobs]),
        drive=drive[table.job, table.crew],
        mean_length=float(table.length.mean()) if len(table) else 1.0,
    )


def kept_rows(instance: Instance, table: OptionTable) -> list[int]:
    """Rows that keep confirmed visits, where they are legal and no earlier job has the time."""
    kept: list[int] = []
    for number, job in enumerate(instance.jobs):
        slot = job.confirmed
        if slot is None:
            continue
        crew = [crew.id for crew in instance.crews].index(slot.crew)
        day = instance.calendar_of(instance.crews[crew]).index_of.get(slot.date)
        if day is None:
            continue
        start = 2 * day + HALVES.index(slot.half)
        at = (table.job == number) & (table.crew == crew) & (table.start == start)
        kept += np.flatnonzero(at & (table.mate == ALONE)).tolist()
    return kept


def _dispatch(
    instance: Instance, table: OptionTable, facts: Facts, name: str, rule: Priority
) -> RuleResult:
    room = Room(table)
    for row in kept_rows(instance, table):
        room.take(row)
    for rows in _by_time(table):
        if not room.free[table.cell[rows[0]]]:
            continue
        ready = rows[room.waiting[table.job[rows]]]
        urgency = rule(table, facts, ready, int(table.start[rows[0]]))
        for row in ready[np.argsort(-urgency, kind="stable")].tolist():
            if room.take(row):
                break
    used = sorted(room.rows)
    return RuleResult(name, tuple(used), table.cost_of(used))


def _by_time(table: OptionTable) -> list[Ints]:
    """The rows that start at one half-day of one crew, for each of these in order of time."""
    rows = np.flatnonzero(table.mate == ALONE)
    key = table.start[rows] * (table.crew_count + 1) + table.crew[rows]
    order = np.argsort(key, kind="stable")
    firsts = np.flatnonzero(np.diff(key[order], prepend=-1))
    return np.split(rows[order], firsts[1:]) if len(rows) else []
