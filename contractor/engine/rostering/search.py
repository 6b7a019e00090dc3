"""What every stage of the optimizer shares: the plan so far, the bound, when to stop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from contractor.engine.rostering.shared_days import merged
from contractor.engine.rostering.table import OptionTable


@dataclass(frozen=True)
class Progress:
    """A message while the optimizer runs; ``bound`` is proven, ``cost`` is of a legal plan."""

    stage: str
    seconds: float
    cost: int
    bound: int


@dataclass(frozen=True)
class Limits:
    """When to stop: ``seconds`` on ``clock``, or ``rounds`` of work whatever the time.

    With ``rounds`` the answer depends on input and seed only. ``cancelled`` is asked often.
    """

    clock: Callable[[], float]
    seconds: float | None
    rounds: int | None
    cancelled: Callable[[], bool]

    @property
    def is_deterministic(self) -> bool:
        return self.rounds is not None


class Search:
    """The best plan found (row numbers of ``table``) and the best bound proven."""

    def __init__(
        self,
        table: OptionTable,
        rows: list[int],
        limits: Limits,
        progress: Callable[[Progress], None],
        accepts: Callable[[list[int]], bool] = lambda rows: True,
    ) -> None:
        self.table, self.limits, self.progress = table, limits, progress
        self.accepts = accepts
        self.rows = merged(table, sorted(rows))
        self.cost = table.cost_of(self.rows)
        self.bound = 0
        self.begun = limits.clock()

    @property
    def elapsed(self) -> float:
        return self.limits.clock() - self.begun

    @property
    def is_proven(self) -> bool:
        return self.bound >= self.cost

    def should_stop(self) -> bool:
        return self.is_proven or self.is_over()

    def is_over(self, share: float = 1.0) -> bool:
        """Whether the time, or ``share`` of it, is used up or somebody cancelled."""
        if self.limits.cancelled():
            return True
        seconds = self.limits.seconds
        return seconds is not None and self.elapsed >= share * seconds

    def left(self, most: float) -> float:
        """Seconds left, at most ``most``."""
        if self.limits.seconds is None:
            return most
        return max(0.05, min(most, self.limits.seconds - self.elapsed))

    def offer(self, rows: list[int], stage: str) -> bool:
        """Take over a plan if it is cheaper and ``accepts`` has nothing against it."""
        rows = merged(self.table, sorted(rows))
        cost = self.table.cost_of(rows)
        if cost >= self.cost or not self.accepts(rows):
            return False
        self.rows, self.cost = rows, cost
        self.say(stage)
        return True

    def raise_bound(self, bound: int, stage: str) -> None:
        """Take over a proven bound if it is higher; a bound above the plan's cost means that
        no cheaper plan exists, so it is cut there."""
        bound = min(bound, self.cost)
        if bound > self.bound:
            self.bound = bound
            self.say(stage)

    def say(self, stage: str) -> None:
        self.progress(Progress(stage, self.elapsed, self.cost, self.bound))
