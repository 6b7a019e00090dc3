"""What a re-plan would like to keep: the tickets that are still right as they are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from contractor.engine.cutting import CutPlan
from contractor.engine.cutting.model import Bar
from inventory.cutlists import Inputs, bar_place, stock_id
from inventory.models import CutPlanBar


def still_good(inputs: Inputs, rows: Sequence[CutPlanBar]) -> CutPlan:
    """Return the bars whose every piece has the length on its ticket, as the plan to stay near.

    Which of them are still wanted in that number, and worth their cost, the engine's re-plan says.
    """
    lengths = {one.line_pk: one.length_ticks for one in inputs.wanted}
    bars: list[Bar] = []
    for row in rows:
        pieces = list(row.pieces.values_list("kit_line", "length_ticks"))
        if pieces and all(lengths.get(line) == length for line, length in pieces):
            counts = Counter(str(line) for line, _ in pieces)
            held = tuple(sorted(counts.items()))
            bars.append(Bar(stock_id(bar_place(row)), 1, held, row.left_ticks, row.is_kept))
    return CutPlan(tuple(bars), cost=0, bound=0, is_proven=False)
