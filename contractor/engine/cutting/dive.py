"""Dive from a linear solution to a whole plan: fix patterns, solve the rest anew, repeat.

After each fixing the residual demand gets its own column generation, so that the patterns fit
what is left. The plain rules finish the residual now and then: often that is already the plan.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

import numpy as np

from contractor.engine.cutting.columns import Generator
from contractor.engine.cutting.heuristics import best_rule, downsize
from contractor.engine.cutting.master import Region
from contractor.engine.cutting.problem import BarType, Cuts, Pattern, Problem, trim_cover
from contractor.engine.cutting.repack import Repack
from contractor.engine.cutting.scaling import scale_duals

#: Fractions from ``LARGE`` on are always rounded up, from ``FAIR`` on for a share of the bars.
LARGE = 0.7
FAIR = 0.3
SHARE = 0.1


@dataclass(frozen=True)
class Rest:
    """A residual problem; its size k is size ``sizes[k]`` of the whole; ``chosen`` is decided."""

    problem: Problem
    sizes: tuple[int, ...]
    chosen: Cuts

    def whole(self, cuts: Cuts) -> Cuts:
        """Return the plan for the whole from one for the rest."""
        plan = Counter(self.chosen)
        for pattern, count in cuts.items():
            content = tuple((self.sizes[size], number) for size, number in pattern.content)
            plan[Pattern(pattern.bar, content)] += count
        return dict(plan)


class Dive:
    """One dive in ``region``; ``upper`` is the cost to beat, ``floor`` what any plan costs."""

    def __init__(
        self,
        generator: Generator,
        region: Region,
        upper: int,
        is_stopped: Callable[[], bool],
        random: Random | None = None,
        floor: int = 0,
    ) -> None:
        self.generator = generator
        self.floor = floor
        self.problem = generator.problem
        self.region = region
        self.upper = upper
        self.is_stopped = is_stopped
        self.random = random
        self.residual = list(self.problem.demands)
        self.chosen = Counter[Pattern]()
        self.spent = 0
        self.best: Cuts | None = None

    def run(self, passes: int = 12) -> Cuts | None:
        """Return cheaper cuts than ``upper``, or None. The master must hold a region's solution."""
        step = 0
        while any(self.residual):
            fixed = self._fix()
            if not fixed or self.is_stopped():
                break
            if not any(self.residual):
                break
            if step % 4 == 0:
                self._finish_by_rule()
            step += 1
            if not self._resolve(passes):
                break
        if not any(self.residual):
            self._offer(self.chosen)
        else:
            self._finish_by_rule()
        return self.best

    def _offer(self, cuts: Cuts) -> None:
        exact = downsize(self.problem, trim_cover(self.problem, cuts))
        cost = self.problem.cost(exact)
        if cost < self.upper and self.problem.covers(exact):
            self.best, self.upper = exact, cost

    def _fix(self) -> bool:
        """Fix whole parts and the largest fractions that the residual can use, at least one."""
        master = self.generator.master
        fixed = self.take_whole_parts()
        rest = master.counts - np.floor(master.counts + 1e-6)
        quota = int(SHARE * master.counts.sum())
        for column in self._picks(rest):
            if rest[column] < 1e-6 or (fixed and rest[column] < (FAIR if quota > 0 else LARGE)):
                break
            if self._take(master.patterns[int(column)], 1):
                fixed = True
                quota -= 1
        return fixed

    def take_whole_parts(self, random: Random | None = None) -> bool:
        """Fix each pattern as often as the solution has it in full; say whether any was.

        With ``random``, one time less for every third pattern or so.
        """
        master = self.generator.master
        whole = np.floor(master.counts + 1e-6).astype(np.int64)
        fixed = False
        for column in np.flatnonzero(whole):
            less = 1 if random is not None and random.random() < 0.3 else 0
            fixed |= self._take(master.patterns[int(column)], int(whole[column]) - less)
        return fixed

    def take_by_chance(self, random: Random) -> None:
        """Fix whole parts, then one each of what the solution uses, larger fractions likelier."""
        self.take_whole_parts()
        counts = self.generator.master.counts
        columns = np.flatnonzero(counts > 0.02)
        noise = np.array([random.random() for _ in columns])
        for at in np.argsort(-counts[columns] * (0.3 + noise), kind="stable"):
            self._take(self.generator.master.patterns[int(columns[at])], 1)

    def _picks(self, rest: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[int]:
        score = rest
        if self.random is not None:
            noise = np.array([self.random.random() for _ in range(len(rest))])
            score = np.where(rest > 1e-6, rest + 0.35 * noise, rest)
        return [int(column) for column in np.argsort(-score, kind="stable")[:40]]

    def _take(self, pattern: Pattern, count: int) -> bool:
        """Fix up to ``count`` of a pattern, as often as no piece of it is surplus."""
        if not pattern.content:
            return False
        fits = min(self.residual[size] // number for size, number in pattern.content)
        count = min(count, fits)
        high = self.region.box[pattern.bar][1] - self._used(pattern.bar)
        count = min(count, high, *self._tail_room(pattern.bar))
        if count <= 0:
            return False
        self.chosen[pattern] += count
        self.spent += count * self.problem.bars[pattern.bar].cost
        for size, number in pattern.content:
            self.residual[size] -= number * count
        return True

    def _tail_room(self, bar: int) -> list[int]:
        return [
            high - sum(n for pattern, n in self.chosen.items() if pattern.bar >= tail)
            for tail, (_, high) in self.region.tails.items()
            if tail <= bar
        ]

    def _used(self, bar: int) -> int:
        return sum(count for pattern, count in self.chosen.items() if pattern.bar == bar)

    def _rest_region(self) -> Region:
        used = Counter[int]()
        for pattern, count in self.chosen.items():
            used[pattern.bar] += count
        box = tuple(
            (max(0, low - used[at]), high - used[at])
            for at, (low, high) in enumerate(self.region.box)
        )
        tails = {}
        for tail, (low, high) in self.region.tails.items():
            have = sum(count for bar, count in used.items() if bar >= tail)
            tails[tail] = (max(0, low - have), high - have)
        return Region(box, tails)

    def _resolve(self, passes: int) -> bool:
        """Solve the residual; False once it cannot lead to a cheaper plan."""
        generator, rest = self.generator, self._rest_region()
        knapsack = generator.make_knapsack(self.residual)
        generator.master.set_demands(self.residual)
        generator.master.set_region(rest)
        is_new = False
        for _ in range(passes):
            if self.is_stopped() or not generator.solve_master(is_new):
                return False
            if self._is_good():
                return True
            prices = generator.master.prices
            scaled = scale_duals(self.problem, prices.sizes)
            reduced = generator.price(knapsack, scaled)
            raw = generator.certify(self.residual, rest, prices, scaled, reduced).raw
            if self.problem.round_up(raw + self.spent * scaled.scale, scaled.scale) >= self.upper:
                return False
            found = generator.new_patterns(knapsack, scaled, prices.fees)
            if not generator.master.add(found):
                break
            is_new = True
        return True

    def _is_good(self) -> bool:
        """Say whether the solution costs what any plan must: better patterns cannot help."""
        master = self.generator.master
        if master.stand_ins > 1e-9:
            return False
        return self.spent + master.value <= self.floor * (1 + 1e-9) + 1e-6

    def repack(self, bars: Sequence[int], steps: int, random: Random) -> Cuts | None:
        """Pack what the dive left over into exactly ``bars`` (bars per type); None: no luck."""
        kinds: list[int] = []
        contents: list[list[int]] = []
        spare = list(bars)
        leftover = [size for size, need in enumerate(self.residual) for _ in range(need)]
        for pattern, count in sorted(self.chosen.items()):
            pieces = [size for size, number in pattern.content for _ in range(number)]
            for _ in range(count):
                if spare[pattern.bar] > 0:
                    spare[pattern.bar] -= 1
                    kinds.append(pattern.bar)
                    contents.append(pieces)
                else:
                    leftover += pieces
        for bar, count in enumerate(spare):
            kinds += [bar] * count
            contents += [[] for _ in range(count)]
        if not kinds:
            return None
        cuts = Repack(self.problem, kinds, contents, leftover, random).run(steps, self.is_stopped)
        if cuts is not None:
            self._offer(Counter(cuts))
        return self.best

    def rest(self) -> Rest:
        """Return what is left to plan, as a problem of its own."""
        used = Counter[int]()
        for pattern, count in self.chosen.items():
            used[pattern.bar] += count
        bars = tuple(
            BarType(bar.capacity, bar.cost, max(0, bar.supply - used[at]))
            for at, bar in enumerate(self.problem.bars)
        )
        sizes = tuple(size for size, need in enumerate(self.residual) if need)
        widths = tuple(self.problem.widths[size] for size in sizes)
        needs = tuple(self.residual[size] for size in sizes)
        return Rest(Problem(widths, needs, bars), sizes, dict(self.chosen))

    def _finish_by_rule(self) -> None:
        rest = self.rest()
        cuts, unmet = best_rule(rest.problem)
        if not any(unmet):
            self._offer(Counter(rest.whole(cuts)))
