"""The checker's own recount of what a crew plan costs, and of the figures it reports.

Shares no code with the optimizer.
"""

from __future__ import annotations

import math
from datetime import date

from contractor.engine.rostering.check_reading import (
    ONE_DAY,
    Entry,
    Raw,
    Violation,
    drive,
    is_working,
    kilometres,
    minutes,
    yard,
)

_GAP_TOLERANCE = 1e-4


def total_cost(instance: Raw, entries: list[Entry]) -> int:
    """Cost of the visits and of every job without one."""
    planned = {entry.job["id"] for entry in entries}
    total = sum(_visit_cost(instance, entry) for entry in entries)
    total += sum(
        _left_out_cost(instance, job) for job in instance["jobs"] if job["id"] not in planned
    )
    if instance.get("shared_days"):
        total -= _shared_drives(instance, entries)
    return total


def _visit_cost(instance: Raw, entry: Entry) -> int:
    weights = instance["weights"]
    due = date.fromisoformat(entry.job["due"])
    late = sum(1 for day, _ in entry.cells if day > due)
    if entry.days[0] > due:  # the working half-days between the due day and the start count too
        late += _working_halfdays(instance, entry.crew, due, entry.days[0])
        late += 1 if entry.half == "pm" else 0
    per_halfday = weights["tardy_half_day"] * weights["sev"][str(entry.job["severity"])]
    cost = per_halfday * late + _travel(instance, entry)
    days = entry.days
    if any(days[i + 1] != days[i] + ONE_DAY for i in range(len(days) - 1)):
        cost += weights["weekend_split"]
    return int(cost + _change_cost(instance, entry))


def _travel(instance: Raw, entry: Entry) -> int:
    days = math.ceil(entry.halfdays / 2)
    return round(2 * drive(instance, entry) * days * int(instance["weights"]["travel_min"]))


def _working_halfdays(instance: Raw, crew: Raw | None, after: date, before: date) -> int:
    """Working half-days strictly between two days."""
    count, day = 0, after + ONE_DAY
    while day < before:
        count += 2 if is_working(instance, crew, day) else 0
        day += ONE_DAY
    return count


def _change_cost(instance: Raw, entry: Entry) -> int:
    agreed, weights = entry.job.get("confirmed"), instance["weights"]
    if not agreed:
        return 0
    cost = weights["crew_change"] if agreed["crew"] != entry.crew["id"] else 0
    then = date.fromisoformat(agreed["date"])
    if (then, agreed["half"]) != (entry.first, entry.half):
        low, high = min(then, entry.first), max(then, entry.first)
        days = _working_halfdays(instance, entry.crew, low - ONE_DAY, high) // 2
        cost += weights["date_change"] + weights["date_change_per_day"] * days
    return int(cost)


def _left_out_cost(instance: Raw, job: Raw) -> int:
    weights = instance["weights"]
    due, last = date.fromisoformat(job["due"]), date.fromisoformat(instance["last_day"])
    if due > last:
        over = -2 * round((due - last).days * 5 / 7)
    else:
        over = _working_halfdays(instance, None, due, last + ONE_DAY)
    per_halfday = weights["tardy_half_day"] * weights["sev"][str(job["severity"])]
    cost = weights["unscheduled"] + per_halfday * max(0, over + 20)
    if job.get("confirmed"):
        cost += weights["date_change"] + 10 * weights["date_change_per_day"]
    return int(cost)


def _shared_drives(instance: Raw, entries: list[Entry]) -> int:
    """What home-A-B-home saves against home-A-home-B-home, over all shared crew-days."""
    days: dict[tuple[str, date], list[Entry]] = {}
    for entry in entries:
        if entry.halfdays == 1:
            days.setdefault((entry.crew["id"], entry.first), []).append(entry)
    saved = 0
    for pair in days.values():
        if len(pair) == 2:
            first, second = sorted(pair, key=lambda entry: entry.half)
            home = yard(instance, first.crew)
            legs = (home, first.job["xy"], second.job["xy"], home)
            trip = sum(minutes(instance, kilometres(legs[i], legs[i + 1])) for i in range(3))
            apart = _travel(instance, first) + _travel(instance, second)
            saved += max(0, apart - round(trip * instance["weights"]["travel_min"]))
    return saved


def check_figures(instance: Raw, plan: Raw, entries: list[Entry]) -> list[Violation]:
    """Cost, bound, gap and proof as the plan states them, against the recount."""
    cost, found = total_cost(instance, entries), []
    if plan["cost"] != cost:
        found.append(Violation("wrong_cost", f"says {plan['cost']}, recounted {cost}"))
    if plan["bound"] > plan["cost"]:
        found.append(Violation("bound_above_cost", f"{plan['bound']} > {plan['cost']}"))
    gap = (plan["cost"] - plan["bound"]) / plan["cost"] if plan["cost"] else 0.0
    if abs(gap - plan["gap"]) > _GAP_TOLERANCE:
        found.append(Violation("wrong_gap", f"says {plan['gap']}, recounted {gap:.6f}"))
    if plan["proven"] and plan["bound"] != plan["cost"]:
        found.append(Violation("proof_missing", "proven, but the bound is not the cost"))
    return found
