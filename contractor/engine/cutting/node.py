"""An open region in the queue of the search."""

from __future__ import annotations

from dataclasses import dataclass, field

from contractor.engine.cutting.master import Region


@dataclass(order=True)
class Node:
    """An open region. ``rank`` orders the queue: the bound, raised by each fruitless dig.

    Of one rank the youngest comes first: many regions share a bound, and only depth ends that.
    """

    rank: float
    age: int
    bound: int = field(compare=False)
    region: Region = field(compare=False)
    split: tuple[Region, Region] | None = field(compare=False, default=None)
    is_converged: bool = field(compare=False, default=True)
    is_priced: bool = field(compare=False, default=True)
    digs: int = field(compare=False, default=0)
