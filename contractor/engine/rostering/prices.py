"""What one more crew-day would be worth, and what pins cost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from contractor.engine.rostering.board import Board
from contractor.engine.rostering.document import Instance, Pin
from contractor.engine.rostering.legality import covers
from contractor.engine.rostering.rearrange import Rearrangement, rearranged

RIVALS = 6


@dataclass(frozen=True)
class CrewDayPrice:
    """Cost that one more day like ``crew``'s would take off, by branch and week.

    ``price`` is that of the best crew-day of the week (``crew`` on ``day``), ``mean`` the
    mean over the branch's crew-days. Prices are those of the linear relaxation, so they
    hold for the first extra day only.
    """

    branch: str
    week: date
    price: float
    mean: float
    crew: str
    day: date


def crew_day_prices(
    instance: Instance, cancelled: Callable[[], bool] = lambda: False
) -> tuple[CrewDayPrice, ...]:
    """Prices by branch and by Monday of the week; empty when ``cancelled`` came too early."""
    days: dict[tuple[str, date], list[tuple[float, str, date]]] = {}
    for crew, prices in _halfday_prices(instance, cancelled).items():
        for number, day in enumerate(instance.calendar_of(instance.crew_of[crew]).days):
            team = instance.crew_of[crew]
            if any(covers(a, day, half) for a in team.absences for half in ("am", "pm")):
                continue  # a row that nobody can use has no price of its own
            price = prices[2 * number] + prices[2 * number + 1]
            monday = day - timedelta(days=day.weekday())
            days.setdefault((team.branch, monday), []).append((price, crew, day))
    found = []
    for (branch, week), priced in sorted(days.items()):
        price, crew, day = min(priced, key=lambda item: (-item[0], item[1], item[2]))
        mean = sum(item[0] for item in priced) / len(priced)
        found.append(CrewDayPrice(branch, week, round(price, 2), round(mean, 2), crew, day))
    return tuple(found)


def _halfday_prices(instance: Instance, cancelled: Callable[[], bool]) -> dict[str, list[float]]:
    """Per crew: how much the relaxation would gain from each half-day twice."""
    from contractor.engine.rostering import rules
    from contractor.engine.rostering.options import build_options
    from contractor.engine.rostering.relaxation import solve_relaxation

    table = build_options(instance)
    start = rules.rows_used(rules.run_rules(instance, table))
    answer = solve_relaxation(table, start, cancelled).answer
    if answer is None:
        return {}
    found: dict[str, list[float]] = {}
    for number, crew in enumerate(instance.crews):
        first = int(table.first_cell[number])
        last = first + int(table.spans[number])
        found[crew.id] = [max(0.0, -price) for price in answer.cell_price[first:last].tolist()]
    return found


@dataclass(frozen=True)
class PinCost:
    """A pin, whether the plan keeps it, and what the plan would save at least without it.

    The saving is the best found when the job and the holders of its cheapest options may
    move; ``instead`` is how.
    """

    pin: Pin
    is_kept: bool
    cost_at_least: int
    instead: Rearrangement | None


def pin_costs(board: Board) -> tuple[PinCost, ...]:
    """The pins of the instance with what they cost."""
    return tuple(_pin_cost(board, pin) for pin in board.instance.pins)


def _pin_cost(board: Board, pin: Pin) -> PinCost:
    visit = board.visit_of.get(pin.job)
    kept = visit is not None and all(
        wanted in (None, have)
        for wanted, have in (
            (pin.crew, visit.crew),
            (pin.date, visit.date),
            (pin.half, visit.half),
        )
    )
    others = tuple(other for other in board.instance.pins if other.job != pin.job)
    loose = Board(replace(board.instance, pins=others), board.visits)
    holders: list[str] = []
    for place in loose.places(loose.instance.job_of[pin.job]):
        new = [holder for holder in place.holders if holder not in holders]
        if len(holders) + len(new) <= RIVALS:
            holders += new
    instead = rearranged(loose, {pin.job, *holders})
    saved = max(0, -instead.extra_cost) if instead else 0
    return PinCost(pin, kept, saved, instead if saved else None)
