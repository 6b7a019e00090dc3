"""A dive that turns back: after each step the rest must still cost no more than any plan must.

Where bars have to be filled to the last unit, one wrong pattern spoils the rest, and the linear
program of the rest mostly shows it at once: then the step is undone and a smaller one tried.
Patterns with pieces of fine grain come first. Pieces that share a large divisor with the bar
fill it in many more ways, so they are what the end of a dive should have left.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from math import gcd

import numpy as np

from contractor.engine.cutting.dive import Dive
from contractor.engine.cutting.problem import Cuts, Pattern, Problem

#: So often a step may fail at one place before the step that led there is undone as well.
PATIENCE = 3
#: Passes of pricing for one rest.
PASSES = 60
NOISE = 0.3
#: A dive like this pays where all bars together may lose no more than this part of one bar.
LEAST_LOSS = 0.001


def must_be_full(problem: Problem, cost: int) -> bool:
    """Say whether a plan of this cost, of bars of one type, fills them next to fully."""
    bar = problem.bars[0]
    if len(problem.bars) > 1 or not bar.cost:
        return False
    wanted = problem.width(tuple(enumerate(problem.demands)))
    return cost // bar.cost * bar.capacity - wanted <= LEAST_LOSS * bar.capacity


@dataclass
class _Level:
    """What was decided before a step; ``banned`` patterns have failed here on their own."""

    chosen: Counter[Pattern]
    residual: list[int]
    spent: int
    setbacks: int = 0
    banned: list[Pattern] = field(default_factory=list)


class PatientDive(Dive):
    """A dive whose ``floor`` is the cost to reach; the generator must be its own (a fork)."""

    def search(self, most_setbacks: int) -> Cuts | None:
        """Return cheaper cuts than ``upper``, or None. The master must hold a solution."""
        self.levels = [self._level()]
        self.budget = 1.0
        setbacks = 0
        while any(self.residual) and setbacks < most_setbacks and not self.is_stopped():
            taken, rounded = self._take_some()
            if taken and (not any(self.residual) or self._is_promising()):
                self.levels.append(self._level())
                most = 1.0 + 0.1 * float(self.generator.master.counts.sum())
                self.budget = min(2.0 * self.budget, most)
            else:
                setbacks += 1
                self._turn_back(taken, rounded)
        if not any(self.residual):
            self._offer(self.chosen)
        return self.best

    def _level(self) -> _Level:
        return _Level(Counter(self.chosen), list(self.residual), self.spent)

    def _is_promising(self) -> bool:
        """Solve the rest to the end; say whether it may still cost no more than the floor."""
        return self._resolve(PASSES) and self._is_good()

    def _take_some(self) -> tuple[int, float]:
        """Fix patterns of the finest grain in use, those used most first, up to the budget.

        Returns (how many, how much was rounded up in all).
        """
        master = self.generator.master
        used = [at for at in np.flatnonzero(master.counts > 1e-6).tolist() if self._grain(at)]
        finest = min(map(self._grain, used), default=0)
        taken, rounded = 0, 0.0
        for at in sorted(used, key=self._rank):
            number = max(1, int(master.counts[at] + 1e-6))
            more = max(0.0, number - float(master.counts[at]))
            if taken and (rounded + more > self.budget or self._grain(at) > finest):
                break
            if self._take(master.patterns[at], number):
                taken += 1
                rounded += more
        return taken, rounded

    def _grain(self, column: int) -> int:
        """Return the least divisor that a piece of the pattern shares with the bar; 0: no piece."""
        pattern = self.generator.master.patterns[column]
        capacity = self.problem.bars[pattern.bar].capacity
        widths = self.problem.widths
        return min((gcd(widths[size], capacity) for size, _ in pattern.content), default=0)

    def _rank(self, column: int) -> tuple[int, float]:
        noise = NOISE * self.random.random() if self.random is not None else 0.0
        return self._grain(column), -min(1.0, float(self.generator.master.counts[column])) - noise

    def _turn_back(self, taken: int, rounded: float) -> None:
        """Undo the last step; undo steps before it too where nothing good comes of them."""
        level = self.levels[-1]
        level.setbacks += 1
        if rounded > 0:
            self.budget = max(0.25, min(self.budget, rounded) / 2)
        if taken == 1:
            level.banned += self.chosen - level.chosen
            self._allow(level.banned[-1:], False)
        if not taken:
            self._leave()
        while self.levels[-1].setbacks > PATIENCE and len(self.levels) > 1:
            self._leave()
        self._restore()
        while not self._is_promising() and len(self.levels) > 1 and not self.is_stopped():
            self._leave()
            self._restore()

    def _leave(self) -> None:
        """Go one step further back."""
        if len(self.levels) > 1:
            self._allow(self.levels.pop().banned, True)
            self.levels[-1].setbacks += 1

    def _restore(self) -> None:
        level = self.levels[-1]
        self.chosen, self.residual = Counter(level.chosen), list(level.residual)
        self.spent = level.spent

    def _allow(self, patterns: list[Pattern], is_allowed: bool) -> None:
        for pattern in patterns:
            self.generator.master.allow(pattern, is_allowed)
