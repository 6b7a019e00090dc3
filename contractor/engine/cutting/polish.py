"""Among plans of one cost: few and long leftovers worth keeping, then few patterns.

Local search, nothing proven: the contents of two bars are poured together and filled anew, one
of them as full as it gets, so that what is left over gathers in the other; then bars that differ
only a little are cut alike where their pieces can be shared out evenly. The bars bought stay as
they are, so the cost does too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from random import Random

from contractor.engine.cutting.model import Instance
from contractor.engine.cutting.problem import Content, Cuts, Pattern, Problem
from contractor.engine.cutting.repack import fullest

#: Steps of the local search, per bar and at most; each costs well under a tenth of a millisecond.
STEPS_PER_BAR = 25
STEPS = 400
MAX_WIDTH_BITS = 200_000
MAX_PATTERNS = 300


def polish(problem: Problem, cuts: Cuts, instance: Instance, seed: int) -> Cuts:
    """Return cuts with the same bars and pieces, better by :func:`score`."""
    if sum(cuts.values()) < 2 or problem.capacity > MAX_WIDTH_BITS:
        return cuts
    best = _Polish(problem, cuts, instance, Random(seed)).run()
    return min((cuts, best), key=lambda one: score(problem, one, instance))


def score(problem: Problem, cuts: Cuts, instance: Instance) -> tuple[int, int, int]:
    """Return (leftovers kept, minus the sum of their squares, patterns): less is better."""
    kept = 0
    squares = 0
    for pattern, count in cuts.items():
        left = left_of(problem, instance, pattern)
        if 0 < instance.min_offcut <= left:
            kept += count
            squares += left * left * count
    return kept, -squares, len(cuts)


def left_of(problem: Problem, instance: Instance, pattern: Pattern) -> int:
    """Return what remains of the bar after its pieces and one kerf each."""
    room = problem.bars[pattern.bar].capacity - problem.width(pattern.content)
    return max(0, room - instance.kerf)


class _Polish:
    def __init__(self, problem: Problem, cuts: Cuts, instance: Instance, random: Random) -> None:
        self.problem = problem
        self.instance = instance
        self.random = random
        self.bars = [cut for cut, count in sorted(cuts.items()) for _ in range(count)]

    def run(self) -> Cuts:
        if self.instance.min_offcut:
            for _ in range(min(STEPS, STEPS_PER_BAR * len(self.bars))):
                self._gather()
        return self._align()

    def _gather(self) -> None:
        """Refill two bars; keep it if fewer or longer leftovers are worth keeping."""
        one, other = self.random.sample(range(len(self.bars)), 2)
        pool = [*_singles(self.bars[one].content), *_singles(self.bars[other].content)]
        self.random.shuffle(pool)
        capacity = self.problem.bars[self.bars[one].bar].capacity
        first, rest = fullest(self.problem.widths, pool, capacity)
        if not first or not rest:
            return
        pair = (
            Pattern(self.bars[one].bar, _content(first)),
            Pattern(self.bars[other].bar, _content(rest)),
        )
        if self.problem.width(pair[1].content) > self.problem.bars[pair[1].bar].capacity:
            return
        if self._worth(pair) < self._worth((self.bars[one], self.bars[other])):
            self.bars[one], self.bars[other] = pair

    def _worth(self, pair: Sequence[Pattern]) -> tuple[int, int]:
        return score(self.problem, dict(Counter(pair)), self.instance)[:2]

    def _align(self) -> Cuts:
        """Cut two patterns alike where their pieces together come in even numbers."""
        cuts = Counter(self.bars)
        patterns = sorted(cuts)[:MAX_PATTERNS]
        for place, one in enumerate(patterns):
            for other in patterns[place + 1 :]:
                half = _half(one, other)
                if half is not None and cuts[one] and cuts[other]:
                    self._merge(cuts, one, other, half)
        return dict(+cuts)

    def _merge(self, cuts: Counter[Pattern], one: Pattern, other: Pattern, half: Pattern) -> None:
        """Cut both as ``half`` if it fits, a pattern is saved and the leftovers are no worse."""
        if self.problem.width(half.content) > self.problem.bars[half.bar].capacity:
            return
        times = min(cuts[one], cuts[other])
        saved = (cuts[one] == times) + (cuts[other] == times) - (cuts[half] == 0)
        if saved > 0 and self._worth((half, half)) <= self._worth((one, other)):
            cuts.subtract({one: times, other: times})
            cuts[half] += 2 * times


def _singles(content: Content) -> list[int]:
    return [size for size, number in content for _ in range(number)]


def _content(sizes: Sequence[int]) -> Content:
    return tuple(sorted(Counter(sizes).items()))


def _half(one: Pattern, other: Pattern) -> Pattern | None:
    """Return the pattern that holds half of both; None if there is none but themselves."""
    if one.bar != other.bar:
        return None
    total = Counter(dict(one.content))
    total.update(dict(other.content))
    if any(number % 2 for number in total.values()):
        return None
    return Pattern(one.bar, tuple(sorted((size, number // 2) for size, number in total.items())))
