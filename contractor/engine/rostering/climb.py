"""Better prices for the jobs, cheaply: the volume algorithm before any linear program.

A subgradient ascent whose direction is the running mean of how often the schedules take
each job (Barahona and Anbil 2000, Mathematical Programming 87, 385-399).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from contractor.engine.rostering.schedules import Priced, Schedules
from contractor.engine.rostering.table import Ints

ROUNDS = 200
MEMORY = 0.95  # of the direction is kept from round to round
FIRST_STEP = 0.005  # of the bound, if it rose as the direction promises
LONGER, SHORTER = 1.2, 0.66  # a step after a success, and after so many failures in a row
PATIENCE = 20
LATEST = 30  # rounds whose schedules are kept


@dataclass(frozen=True)
class Climbed:
    """The best prices (per job, scaled), their schedules, and the rows the last rounds used."""

    prices: Ints
    priced: Priced
    rows: Ints


def climb(schedules: Schedules, prices: Ints, stop: Callable[[], bool]) -> Climbed:
    """Raise the bound from ``prices`` on; stops early when ``stop`` says so."""
    table = schedules.table
    twice = table.job_count + 1  # the last entry stands for no mate
    priced = schedules.price(prices)
    direction, used, step, failures = None, [], FIRST_STEP, 0
    trial = priced
    for _ in range(ROUNDS):
        rows = schedules.rows_of(trial)
        used.append(rows)
        jobs = np.concatenate((table.job[rows], table.mate[rows]))
        missing = 1.0 - np.bincount(jobs + 1, minlength=twice)[1:]
        direction = missing if direction is None else MEMORY * direction + (1 - MEMORY) * missing
        open_ = np.where((prices >= schedules.unplanned) & (direction > 0), 0.0, direction)
        norm = float((open_**2).sum())
        if stop() or norm == 0:
            break
        moved = prices + step * abs(priced.bound) / norm * open_
        higher = np.minimum(np.rint(moved).astype(np.int64), schedules.unplanned)
        trial = schedules.price(higher)
        if trial.bound > priced.bound:
            prices, priced, failures, step = higher, trial, 0, step * LONGER
        else:
            failures += 1
        if failures == PATIENCE:
            step, failures = step * SHORTER, 0
    return Climbed(prices, priced, np.unique(np.concatenate(used[-LATEST:])))
