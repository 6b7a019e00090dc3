"""The bound: linear relaxation by column generation, made safe in whole numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from contractor.engine.rostering.climb import climb
from contractor.engine.rostering.master import Answer, Floats, Master, Stop
from contractor.engine.rostering.schedules import Schedules
from contractor.engine.rostering.table import ALONE, Bools, Ints, OptionTable

SCALE = 1000  # prices are kept in thousandths of a cost unit
NEW_PER_JOB = 10  # columns per job and round
FIRST_PER_JOB = 14
TOLERANCE = 1e-6
INTERIOR_ROWS = 100_000  # above this, interior points settle the prices before the simplex
INTERIOR_ROUNDS = 4


@dataclass(frozen=True)
class Relaxed:
    """What the relaxation leaves: a true bound, the prices behind it, the last program.

    ``bound`` is proven whether or not the program was solved to the end
    (``is_complete``). ``detour`` per row: a plan with that row costs at least
    ``scaled_bound`` + detour (both in 1/SCALE).
    """

    bound: int
    scaled_bound: int
    job_prices: Ints
    detour: Ints
    master: Master
    answer: Answer | None
    is_complete: bool


def solve_relaxation(
    table: OptionTable,
    start_rows: Ints,
    stop: Stop,
    report: Callable[[int], None] = lambda bound: None,
) -> Relaxed:
    """Generate columns until no option prices out or ``stop`` says so."""
    return _Pricing(table, start_rows, stop, report).run()


class _Pricing:
    def __init__(
        self, table: OptionTable, start_rows: Ints, stop: Stop, report: Callable[[int], None]
    ) -> None:
        self.table, self.stop, self.report = table, stop, report
        self.schedules = Schedules(table, SCALE)
        self.master = Master(table, stop)
        self.master.add(start_rows)
        # At the price of its cheapest option no job is worth taking: the first bound is
        # the sum of these.
        cheapest = table.unplanned.copy()
        single = np.flatnonzero(table.mate == ALONE)
        np.minimum.at(cheapest, table.job[single], table.cost[single])
        self.prices = cheapest * SCALE
        self.priced = self.schedules.price(self.prices)

    def _start(self) -> int:
        """Choose the first columns; return how many rounds go by interior points.

        Large tables first climb: columns around good prices save most of those rounds.
        """
        table, every = self.table, np.ones(len(self.table), np.bool_)
        value, before = table.cost, self.priced.bound
        if len(table) > INTERIOR_ROWS:
            found = climb(self.schedules, self.prices, self.stop)
            self.prices, self.priced = found.prices, found.priced
            self.master.add(found.rows)
            value = self.schedules.detours(self.priced)
            self.report(self.bound)
        self.master.add(cheapest_per_job(table, value, every, FIRST_PER_JOB))
        if len(table) <= INTERIOR_ROWS:
            return 0
        return 1 if self.priced.bound > before else INTERIOR_ROUNDS

    def run(self) -> Relaxed:
        rounds = self._start()
        answer: Answer | None = None
        complete = False
        while not complete and not self.stop():
            rounds -= 1
            latest = self.master.solve(interior=rounds >= 0, tidy=rounds <= 0)
            if self.stop():
                break
            self._keep_best(latest)
            added = self._add_priced_out(latest)
            self.report(self.bound)
            if rounds > 0:
                continue
            if not latest.is_optimal:  # no options at all, or out of numerical reach
                break
            answer = latest
            complete = added == 0 or latest.value <= self.bound + TOLERANCE
        return self._result(answer, complete)

    @property
    def bound(self) -> int:
        return -(-self.priced.bound // SCALE)

    def _keep_best(self, answer: Answer) -> None:
        """Price with whole numbers; any prices give a bound, the best ones are kept."""
        limit = self.table.unplanned
        prices = np.clip(np.rint(answer.job_price * SCALE), -limit * SCALE, limit * SCALE)
        prices = prices.astype(np.int64)
        priced = self.schedules.price(prices)
        if priced.bound > self.priced.bound:
            self.prices, self.priced = prices, priced

    def _add_priced_out(self, answer: Answer) -> int:
        reduced = reduced_costs(self.table, answer)
        outside = (reduced < -TOLERANCE) & ~self.master.inside
        return self.master.add(cheapest_per_job(self.table, reduced, outside))

    def _result(self, answer: Answer | None, complete: bool) -> Relaxed:
        return Relaxed(
            bound=self.bound,
            scaled_bound=self.priced.bound,
            job_prices=np.minimum(self.prices, self.table.unplanned * SCALE),
            detour=self.schedules.detours(self.priced),
            master=self.master,
            answer=answer,
            is_complete=complete,
        )


def reduced_costs(table: OptionTable, answer: Answer) -> Floats:
    """Cost of every row less the prices of its jobs and half-days."""
    ahead = np.concatenate((np.zeros(1), np.cumsum(answer.cell_price)))
    reduced: Floats = table.cost - answer.job_price[table.job]
    reduced -= ahead[table.cell + table.length] - ahead[table.cell]
    paired = np.flatnonzero(table.mate != ALONE)
    reduced[paired] -= answer.job_price[table.mate[paired]]
    return reduced


def cheapest_per_job(
    table: OptionTable, value: Floats | Ints, allowed: Bools, most: int = NEW_PER_JOB
) -> Ints:
    """The few rows of each job with the least ``value`` among the allowed ones."""
    rows = np.flatnonzero(allowed)
    rows = rows[np.lexsort((value[rows], table.job[rows]))]
    job = table.job[rows]
    rank = np.arange(len(rows)) - np.searchsorted(job, job, side="left")
    return rows[rank < most]
