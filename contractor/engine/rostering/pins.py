"""What the pins of a plan cost, and who set them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from contractor.engine.rostering.document import Instance, Pin
from contractor.engine.rostering.explaining import options_of
from contractor.engine.rostering.plan_document import Visit
from contractor.engine.rostering.rearrange import Rearrangement, rearranged

RIVALS = 6  # holders of the job's cheapest options that may move too


@dataclass(frozen=True)
class PinCost:
    """A pin, whether the plan keeps it, and what the plan would save at least without it.

    The saving is the best found when only the job and the holders of its cheapest options
    may move; ``instead`` is how, None where nothing is saved.
    """

    pin: Pin
    is_kept: bool
    cost_at_least: int
    instead: Rearrangement | None


def pin_costs(instance: Instance, visits: Iterable[Visit]) -> tuple[PinCost, ...]:
    """The pins of the instance in its order, with what each costs in this plan."""
    placed = tuple(visits)
    return tuple(pin_cost(instance, placed, pin) for pin in instance.pins)


def pin_cost(instance: Instance, visits: tuple[Visit, ...], pin: Pin) -> PinCost:
    """What one pin of the instance costs in the plan ``visits``."""
    loose = replace(instance, pins=tuple(p for p in instance.pins if p.job != pin.job))
    holders: list[str] = []
    for option in options_of(loose, visits, loose.job_of[pin.job]):
        new = [holder for holder in option.held_by if holder not in holders]
        if len(holders) + len(new) <= RIVALS:
            holders += new
    instead = rearranged(loose, visits, {pin.job, *holders})
    saved = max(0, -instead.extra_cost) if instead else 0
    visit = next((visit for visit in visits if visit.job == pin.job), None)
    return PinCost(pin, visit is not None and _keeps(visit, pin), saved, instead if saved else None)


def _keeps(visit: Visit, pin: Pin) -> bool:
    return (
        pin.crew in (None, visit.crew)
        and pin.date in (None, visit.date)
        and pin.half in (None, visit.half)
    )
