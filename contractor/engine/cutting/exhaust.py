"""Settle a region for good: list the patterns a plan within a limit could use, search them all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from contractor.engine.cutting.columns import Generator
from contractor.engine.cutting.enumeration import patterns_within
from contractor.engine.cutting.master import Region
from contractor.engine.cutting.problem import Cuts
from contractor.engine.cutting.tree import Tree

#: How far demands are shifted to reach other optimal duals: wide first, then narrow.
SPREADS = (0.1, 0.02)

SHORT = 2_000


@dataclass(frozen=True)
class Effort:
    patterns: int
    nodes: int


@dataclass(frozen=True)
class Outcome:
    """A plan within the limit, or the proof that the region holds none (``is_empty``)."""

    cuts: Cuts | None = None
    is_empty: bool = False


def exhaust(
    generator: Generator,
    region: Region,
    limit: int,
    effort: Effort,
    is_stopped: Callable[[int], bool],
    random: Random,
) -> Outcome:
    """Find a plan in ``region`` of cost at most ``limit``, or prove that there is none.

    Gives up (neither) when more patterns qualify, or more nodes are needed, than ``effort`` has.
    """
    problem = generator.problem
    for spread in SPREADS:
        inner = generator.inner_duals(region, lambda: is_stopped(generator.work), random, spread)
        if inner is None:
            return Outcome()
        scaled, _, proof = inner
        if problem.round_up(proof.raw, proof.scale) > limit:
            return Outcome(is_empty=True)
        slack = limit * proof.scale - proof.raw
        least = [max(-1, worth - slack) for worth in generator.knapsack.best_worth().tolist()]
        patterns = patterns_within(problem, scaled.values, least, effort.patterns)
        generator.work += generator.knapsack.cells * 10
        if patterns is not None:
            tree = Tree(problem, region, patterns, limit)
            # Short lists make quick nodes: they may have more of them.
            nodes = effort.nodes * max(1, min(20, SHORT // max(1, len(patterns))))
            found = tree.run(lambda work: is_stopped(generator.work + work), nodes)
            generator.work += tree.work
            return Outcome(found.cuts, found.is_closed)
    return Outcome()
