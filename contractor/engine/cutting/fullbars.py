"""Search for a plan of a given number of bars where these must be next to full, or prove none.

Where as many bars as the volume needs must do, the linear program leaves no slack: a pattern of
any reduced cost at any optimal duals is out. At duals in the middle of all optimal ones, pieces
of fine grain are left with few patterns. Those are listed in full, and pieces without whose
being together the linear program has no solution are put together; bars decided are taken out.
So the problem shrinks step by step. Where nothing is forced, two pieces are tried together and
apart: mostly one of the two is impossible, else both are searched.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from random import Random

import numpy as np

from contractor.engine.cutting.cover import Cover
from contractor.engine.cutting.knapsack import Whole
from contractor.engine.cutting.master import Floats
from contractor.engine.cutting.problem import Content, Cuts, Pattern, Problem
from contractor.engine.cutting.scarce import scarce_sizes
from contractor.engine.cutting.together import (
    WHOLE,
    Thing,
    forced_things,
    keep_apart,
    keep_together,
    undecided_pairs,
)

#: So many optimal duals at first, and more at every step, each for needs shifted by chance by up
#: to half of ``SHIFT``.
FIRST_ROUNDS = 5
ROUNDS = 3
SHIFT = 0.02
#: What missing pieces cost above their share after the first solution.
EXTRA = 0.001
#: A size is scarce with so many patterns at most; more where that forces next to nothing.
FEW_PATTERNS = 100
MANY_PATTERNS = 400
#: All lists together are kept to so many patterns per size.
LISTED = 3
LITTLE = 2
#: So many pairs are tried before a case is split in two.
PROBES = 6


@dataclass(frozen=True)
class Outcome:
    """A plan, or the proof that there is none (``is_empty``), or neither."""

    cuts: Cuts | None = None
    is_empty: bool = False


@dataclass
class _Case:
    """What is left to cut, and the bars decided on the way here."""

    cover: Cover
    chosen: list[Content] = field(default_factory=list)
    most: int = FEW_PATTERNS

    def fork(self) -> _Case:
        return _Case(self.cover.fork(), list(self.chosen))

    def take(self, contents: Iterable[Content]) -> None:
        """Decide on bars; one that no longer fits is left out, and its pieces with it."""
        for content in contents:
            if self.cover.has_need_of(content):
                self.chosen.append(content)
                self.cover.take(content)
        self.cover.keep(self.cover.do_fit())


class FullBars:
    """Depth-first search; every open case is a linear program of its own."""

    def __init__(
        self, problem: Problem, bars: int, contents: Iterable[Content], random: Random
    ) -> None:
        self.problem = problem
        self.random = random
        self.cases = [_Case(Cover(problem, bars, contents))]
        self.is_stuck = False
        self._closed_work = 0

    @property
    def work(self) -> int:
        return self._closed_work + sum(case.cover.work for case in self.cases)

    def reach(self, is_stopped: Callable[[int], bool]) -> bool | None:
        """Say whether fractions of bars would do; None: stopped."""
        return self.cases[0].cover.reach(lambda: is_stopped(self.work))

    def is_stopped(self) -> bool:
        return self._is_stopped(self.work)

    def contents(self) -> list[Content]:
        """Return the contents that hold up the first solution."""
        cover = self.cases[0].cover
        if not cover.solve(False):
            return []
        return [cover.columns[at] for at in np.flatnonzero(cover.reduced_costs() < 0).tolist()]

    def run(self, is_stopped: Callable[[int], bool]) -> Outcome:
        """Search until it is settled or stopped or stuck; a second call goes on."""
        self._is_stopped = is_stopped
        while self.cases:
            found = self._step(self.cases[-1])
            if found is not None and not found.is_empty:
                self.is_stuck = found.cuts is None and not self.is_stopped()
                return found
            if found is not None:
                self._closed_work += self.cases.pop().cover.work
        return Outcome(is_empty=True)

    def _step(self, case: _Case) -> Outcome | None:
        """Shrink a case, or split it; an outcome if it is closed, planned, stopped or stuck."""
        case.cover.refresh()
        for narrow in (self._reach, self._narrow):
            reached = narrow(case)
            if not reached:
                return Outcome(is_empty=reached is False)
            if self._is_whole(case.cover):
                return self._plan(case)
        uses = case.cover.uses
        forced = forced_things(case.cover, self.is_stopped)
        if forced is None:
            return Outcome()
        middle = 0.5 * (uses + case.cover.uses[: len(uses)])
        case.cover.recall()
        self._apply(case, forced)
        if len(forced) <= LITTLE and case.most < MANY_PATTERNS:
            case.most *= 4
            return None
        if forced or self._probe(case, undecided_pairs(case.cover, middle)):
            return None
        return self._branch_on_pattern(case, uses)

    def _reach(self, case: _Case) -> bool | None:
        reached = case.cover.reach(self.is_stopped)
        if reached:
            case.cover.remember()
        return reached

    def _is_whole(self, cover: Cover) -> bool:
        away = np.abs(cover.uses - np.round(cover.uses)).max(initial=0.0)
        return bool(away < WHOLE) and cover.missing < WHOLE

    def _plan(self, case: _Case) -> Outcome:
        """Return the plan of a whole solution; nothing if it does not hold all pieces."""
        cover = case.cover
        contents = Counter(case.chosen)
        for at in np.flatnonzero(cover.uses > 0.5).tolist():
            contents[cover.columns[at]] += round(float(cover.uses[at]))
        cuts = {Pattern(0, one): count for one, count in contents.items()}
        return Outcome(cuts if self.problem.covers(cuts) else None)

    def _narrow(self, case: _Case) -> bool | None:
        """Drop what is out at central duals, list sizes that became scarce, solve again."""
        cover = case.cover
        cover.raise_prices(EXTRA)
        shift = np.where(cover.needs > 0, SHIFT, 0.0)
        for _ in range(ROUNDS if cover.turns else FIRST_ROUNDS):
            chance = np.array([self.random.random() - 0.5 for _ in cover.needs])
            if not cover.converge(cover.needs + shift * chance, self.is_stopped):
                return None
            cover.centre = cover.centre + cover.duals
            cover.turns += 1
        scaled, best = cover.price(cover.centre / cover.turns)
        best = cover.most_worth(scaled.values, best)
        # A bar that is worth less leaves the others too much to hold.
        least = best - (cover.bars * best - cover.worth_of_needs(scaled.values))
        cover.keep(~cover.are_listed() | (cover.worths(scaled.values) >= least))
        if len(cover.open_sizes) and scaled.is_small:
            self._list(case, scaled.values, least)
        cover.refresh()
        cover.recall()
        return self._reach(case)

    def _list(self, case: _Case, values: Whole, least: int) -> None:
        """List all patterns of the open sizes that few can hold, the scarcest first."""
        cover = case.cover
        sizes = cover.open_sizes.tolist()
        found = scarce_sizes(cover.open_problem(), values[sizes], least, case.most)
        room = LISTED * cover.sizes
        lists: set[Content] = set()
        fresh: list[int] = []
        for at in sorted(found, key=lambda at: (len(found[at]), at)):
            room -= len(found[at])
            if room < 0 and fresh:
                break
            fresh.append(sizes[at])
            lists.update(
                tuple((sizes[one], number) for one, number in content) for content in found[at]
            )
        kept = ~cover.holding(fresh) | cover.are_listed()
        kept |= np.array([one in lists for one in cover.columns], dtype=np.bool_)
        cover.is_scarce[fresh] = True
        cover.keep(kept)
        cover.add(sorted(lists))

    def _apply(self, case: _Case, forced: list[Thing]) -> None:
        """Put together what is forced; take the bars that are decided."""
        cover = case.cover
        takes = [cover.columns[thing[0]] for thing in forced if len(thing) == 1]
        keep_together(cover, [thing for thing in forced if len(thing) == 2])
        while takes:
            case.take(takes)
            takes = self._only_ones(cover)
        cover.refresh()

    def _only_ones(self, cover: Cover) -> list[Content]:
        """Return the columns that alone hold some scarce size."""
        scarce = cover.is_scarce.tolist()
        holders = Counter(size for one in cover.columns for size, _ in one if scarce[size])
        return [one for one in cover.columns if any(holders[size] == 1 for size, _ in one)]

    def _probe(self, case: _Case, pairs: list[Thing]) -> bool:
        """Try pairs together and apart; go on with what is left, or with both for the first."""
        cover = case.cover
        for pair in pairs[:PROBES]:
            for is_together in (True, False):
                one, other = cover.holding(pair[:1]), cover.holding(pair[1:])
                kept = one == other if is_together else ~(one & other)
                reached = cover.reach_with(kept, self.is_stopped)
                if reached is None:
                    return False
                if not reached:
                    (keep_apart if is_together else keep_together)(cover, [pair])
                    return True
        if pairs:
            together = case.fork()
            keep_apart(cover, pairs[:1])
            keep_together(together.cover, pairs[:1])
            self.cases.append(together)
        return bool(pairs)

    def _branch_on_pattern(self, case: _Case, uses: Floats) -> Outcome | None:
        """Split a case on one listed pattern, taken or never used; stuck where none is used."""
        cover = case.cover
        used = np.flatnonzero((uses > WHOLE) & cover.are_listed()[: len(uses)]).tolist()
        if not used:
            return Outcome()
        at = max(used, key=lambda at: (uses[at] < 1 - WHOLE, uses[at], -at))
        taken = case.fork()
        taken.take([cover.columns[at]])
        kept = np.ones(len(cover.columns), dtype=np.bool_)
        kept[at] = False
        cover.keep(kept)
        self.cases.append(taken)
        return None
