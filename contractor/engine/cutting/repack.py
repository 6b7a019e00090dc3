"""Pack pieces that a dive left over: empty a few bars and fill them anew, as full as they get.

The bars to buy are given. Each step takes one to five of them, pools their pieces with the
pieces left over, and fills one bar after the other by the largest subset sum (bit sets in whole
numbers), half of the time with the largest pieces first. Full bars leave the room to the others,
so the slack gathers until the rest fits; a step stays if it leaves less over, or as much with the
slack more uneven.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from random import Random

from contractor.engine.cutting.problem import Cuts, Pattern, Problem


class Repack:
    """``bars`` are bar types, one entry per bar; ``contents`` their size indices, one per piece."""

    def __init__(
        self,
        problem: Problem,
        bars: Sequence[int],
        contents: Sequence[Sequence[int]],
        leftover: Sequence[int],
        random: Random,
    ) -> None:
        self.problem = problem
        self.bars = list(bars)
        self.contents = [list(content) for content in contents]
        self.leftover = list(leftover)
        self.random = random
        self.room = [
            problem.bars[bar].capacity - self._width(content)
            for bar, content in zip(self.bars, self.contents, strict=True)
        ]

    def run(self, steps: int, is_stopped: Callable[[], bool]) -> Cuts | None:
        """Return a plan that holds every piece, or None after ``steps`` steps."""
        for step in range(steps):
            if not self.leftover:
                return self._cuts()
            if step % 64 == 63 and is_stopped():
                return None
            self._step()
        return None if self.leftover else self._cuts()

    def _width(self, content: Sequence[int]) -> int:
        return sum(self.problem.widths[size] for size in content)

    def _step(self) -> None:
        count = min(len(self.bars), self.random.choice((1, 2, 2, 3, 3, 4, 5)))
        picked = self._pick(count)
        pool = [size for at in picked for size in self.contents[at]] + self.leftover
        before = self._score([self.room[at] for at in picked], self.leftover)
        self.random.shuffle(pool)
        if self.random.random() < 0.5:
            pool.sort()
        contents = []
        for at in picked:
            capacity = self.problem.bars[self.bars[at]].capacity
            content, pool = fullest(self.problem.widths, pool, capacity)
            contents.append(content)
        room = [
            self.problem.bars[self.bars[at]].capacity - self._width(content)
            for at, content in zip(picked, contents, strict=True)
        ]
        if self._score(room, pool) < before:
            return
        for at, content, free in zip(picked, contents, room, strict=True):
            self.contents[at], self.room[at] = content, free
        self.leftover = pool

    def _pick(self, count: int) -> list[int]:
        """Pick bars by chance, the roomiest among a few always with them."""
        picked = self.random.sample(range(len(self.bars)), count)
        others = self.random.sample(range(len(self.bars)), min(len(self.bars), 6))
        roomy = max(others, key=lambda at: self.room[at])
        if roomy not in picked:
            picked[-1] = roomy
        return picked

    def _score(self, room: Sequence[int], leftover: Sequence[int]) -> tuple[int, int]:
        return -self._width(leftover), sum(free * free for free in room)

    def _cuts(self) -> Cuts:
        return dict(
            Counter(
                Pattern(bar, tuple(sorted(Counter(content).items())))
                for bar, content in zip(self.bars, self.contents, strict=True)
                if content
            )
        )


def fullest(
    widths: Sequence[int], pool: Sequence[int], capacity: int
) -> tuple[list[int], list[int]]:
    """Return (the size indices of ``pool`` with the largest sum that fits, the others)."""
    mask = (2 << capacity) - 1
    sums = [1]
    for size in pool:
        sums.append((sums[-1] | sums[-1] << widths[size]) & mask)
    target = sums[-1].bit_length() - 1
    taken: list[int] = []
    rest: list[int] = []
    for at in range(len(pool) - 1, -1, -1):
        if sums[at] >> target & 1:
            rest.append(pool[at])
        else:
            taken.append(pool[at])
            target -= widths[pool[at]]
    return taken, rest
