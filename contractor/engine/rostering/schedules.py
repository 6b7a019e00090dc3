"""Cheapest schedule of every crew at given job prices, by dynamic programming.

With a price on every job the crews fall apart: each takes the set of options that do not
overlap and save most. The sum over crews, plus the prices, is a true lower bound on the
cost of any plan (Lagrangian relaxation of "each job once"; Geoffrion 1974, Mathematical
Programming Study 2). All arithmetic is on whole numbers, so the bound needs no tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from contractor.engine.rostering.table import ALONE, Ints, OptionTable

FAR = np.int64(1) << 60  # more than any sum of scaled costs that ``reading`` lets through


@dataclass(frozen=True)
class Priced:
    """The answer at one set of prices; costs and prices are scaled by ``scale``."""

    bound: int
    forward: Ints  # crews x (half-days + 1): cheapest schedule of the half-days before
    reduced: Ints  # per row: cost less the prices of its jobs
    best: Ints  # crews x half-days x lengths: cheapest row that starts there, FAR if none


class Schedules:
    """The options of a table, grouped by crew, start and length once, priced many times."""

    def __init__(self, table: OptionTable, scale: int) -> None:
        self.table = table
        self.scale = scale
        self.cost = table.cost * scale
        self.unplanned = table.unplanned * scale
        self.width = int(table.spans.max(initial=0))
        self.longest = int(table.length.max(initial=1))
        key = (table.crew * self.width + table.start) * (self.longest + 1) + table.length
        self.group_first = np.flatnonzero(np.diff(key, prepend=-1))
        crew, start, length = (
            values[self.group_first] for values in (table.crew, table.start, table.length)
        )
        self.group = (crew, start, length)
        self.lookup = np.full((table.crew_count, self.width, self.longest + 1), -1, np.int64)
        self.lookup[self.group] = np.arange(len(self.group_first))
        self.paired = np.flatnonzero(table.mate != ALONE)

    def reduced_costs(self, prices: Ints) -> Ints:
        reduced = self.cost - prices[self.table.job]
        if len(self.paired):
            reduced[self.paired] -= prices[self.table.mate[self.paired]]
        return reduced

    def price(self, prices: Ints) -> Priced:
        """Schedules at ``prices`` (scaled, per job); no job may be dearer than left out."""
        prices = np.minimum(prices, self.unplanned)
        reduced = self.reduced_costs(prices)
        best = np.full(self.lookup.shape, FAR, np.int64)
        if len(reduced):
            best[self.group] = np.minimum.reduceat(reduced, self.group_first)
        forward = self._forward(best)
        bound = int(prices.sum() + forward[:, -1].sum())
        return Priced(bound, forward, reduced, best)

    def _forward(self, best: Ints) -> Ints:
        crews = len(self.table.spans)
        forward = np.zeros((crews, self.width + 1), np.int64)
        for end in range(1, self.width + 1):
            least = forward[:, end - 1].copy()
            for length in range(1, min(end, self.longest) + 1):
                start = end - length
                np.minimum(least, forward[:, start] + best[:, start, length], out=least)
            forward[:, end] = least
        return forward

    def rows_of(self, priced: Priced) -> Ints:
        """The rows of a cheapest schedule of every crew, found from its end backwards."""
        forward, lengths = priced.forward, np.arange(1, self.longest + 1)
        end = np.full(len(self.table.spans), self.width)
        groups = [np.zeros(0, np.int64)]
        while len(crews := np.flatnonzero(end > 0)):
            at = end[crews]
            idle = forward[crews, at] == forward[crews, at - 1]
            end[crews[idle]] -= 1
            crews, at = crews[~idle], at[~idle]
            starts = at[:, None] - lengths
            each, safe = crews[:, None], np.maximum(starts, 0)
            reached = forward[each, safe] + priced.best[each, safe, lengths]
            fits = (reached == forward[crews, at][:, None]) & (starts >= 0)
            length = lengths[fits.argmax(axis=1)]
            end[crews] = at - length
            groups.append(self.lookup[crews, at - length, length])
        firsts = np.append(self.group_first, len(self.table))
        spans = [(firsts[group], firsts[group + 1]) for group in np.concatenate(groups)]
        cheapest = [first + priced.reduced[first:last].argmin() for first, last in spans]
        return np.array(cheapest, np.int64)

    def backward(self, best: Ints) -> Ints:
        """Crews x (half-days + 1): cheapest schedule of the half-days from each on."""
        after = np.zeros((len(self.table.spans), self.width + 1), np.int64)
        for start in range(self.width - 1, -1, -1):
            least = after[:, start + 1].copy()
            for length in range(1, min(self.width - start, self.longest) + 1):
                np.minimum(least, after[:, start + length] + best[:, start, length], out=least)
            after[:, start] = least
        return after

    def detours(self, priced: Priced) -> Ints:
        """Per row: how much dearer its crew's cheapest schedule gets when it must use the row.

        A plan that uses the row costs at least ``priced.bound`` plus this (scaled).
        """
        table, after = self.table, self.backward(priced.best)
        through = (
            priced.forward[table.crew, table.start] + priced.reduced + after[table.crew, table.end]
        )
        detours: Ints = through - priced.forward[table.crew, -1]
        return detours
