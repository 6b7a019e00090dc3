"""A plan out of the relaxation: take the options it is surest of, solve again, repeat."""

from __future__ import annotations

import numpy as np

from contractor.engine.rostering.master import Answer, Master, Stop
from contractor.engine.rostering.relaxation import cheapest_per_job, reduced_costs
from contractor.engine.rostering.table import OptionTable, Room

SURE = 0.9  # options at least this much in use are taken together
SHARE = 0.34  # of the undecided options in use, at least this many are taken per round
WHOLE = 1e-6
WORTH = 0.5  # a whole cost unit is at stake from here on


def dive(table: OptionTable, master: Master, answer: Answer, stop: Stop) -> list[int]:
    """Return rows of a legal plan; jobs that found no room are left out.

    Changes the bounds of ``master``'s columns; it is of no use afterwards.
    """
    room = Room(table)
    while places := _surest(room, answer):
        if stop():
            break
        master.fix(np.array(places, np.int64), 1.0)
        answer = master.solve()
        if answer.is_optimal and not stop() and _price_in(room, master, answer):
            answer = master.solve()
        if not answer.is_optimal:
            break
    return room.rows


def _surest(room: Room, answer: Answer) -> list[int]:
    """Take the options most in use that still fit; return their places in the program."""
    used = np.flatnonzero((answer.x > WHOLE) & room.waiting[room.table.job[answer.rows]])
    order = used[np.argsort(-answer.x[used], kind="stable")]
    least = max(1, int(SHARE * len(order)))
    places: list[int] = []
    for place in order.tolist():
        if answer.x[place] < SURE and len(places) >= least:
            break
        if room.take(int(answer.rows[place])):
            places.append(place)
    return places


def _price_in(room: Room, master: Master, answer: Answer) -> int:
    """Add options that became worth while and still fit; return how many."""
    table = room.table
    reduced = reduced_costs(table, answer)
    rows = np.flatnonzero((reduced < -WORTH) & ~master.inside)
    allowed = np.zeros(len(table), np.bool_)
    allowed[room.fitting(rows)] = True
    return master.add(cheapest_per_job(table, reduced, allowed))
