"""Is this crew plan legal, and does it cost what it says? From the raw documents only.

Shares no code with the optimizer: it reads the two JSON documents itself and counts dates
one by one. The rules are those of ``install-sched/1``; ``check_cost`` has the costs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

from contractor.engine.rostering.check_cost import check_figures, total_cost
from contractor.engine.rostering.check_reading import (
    Entry,
    Raw,
    Violation,
    drive,
    needed_halfdays,
    read_entry,
)


def check_plan(instance: Raw, plan: Raw) -> list[Violation]:
    """Return every rule that ``plan`` (install-plan/1) breaks; empty for a sound plan."""
    if plan.get("schema") != "install-plan/1" or not isinstance(plan.get("plan"), dict):
        return [Violation("not_a_plan", "This is not an install-plan/1 document.")]
    found: list[Violation] = []
    entries: list[Entry] = []
    for name, raw in plan["plan"].items():
        problem, entry = read_entry(instance, name, raw)
        if problem is not None:
            found.append(problem)
        if entry is not None:
            entries.append(entry)
    for entry in entries:
        for code, broken in _RULES.items():
            found += [Violation(code, f"{entry}: {text}") for text in broken(instance, entry)]
    found += _double_bookings(entries)
    if not found:
        found += check_figures(instance, plan, entries)
    return found


def recompute_cost(instance: Raw, plan: Raw) -> int:
    """Cost of the visits of ``plan`` and of the jobs it leaves out; the plan must be legal."""
    read = [read_entry(instance, name, raw)[1] for name, raw in plan["plan"].items()]
    return total_cost(instance, [entry for entry in read if entry is not None])


def _wrong_length(instance: Raw, entry: Entry) -> Iterator[str]:
    needed = needed_halfdays(instance, entry)
    if entry.halfdays != needed:
        yield f"{entry.halfdays} half-days, {needed} needed"


def _too_long(instance: Raw, entry: Entry) -> Iterator[str]:
    needed = needed_halfdays(instance, entry)
    if needed is None or needed > instance["max_halfdays"]:
        yield f"needs {needed} half-days, {instance['max_halfdays']} allowed"


def _too_far(instance: Raw, entry: Entry) -> Iterator[str]:
    if drive(instance, entry) > instance["max_drive_min"]:
        yield f"{drive(instance, entry):.1f} min drive"


def _too_small(instance: Raw, entry: Entry) -> Iterator[str]:
    if entry.crew["size"] < entry.job["min_size"]:
        yield f"{entry.crew['size']} people, {entry.job['min_size']} needed"


def _over_payload(instance: Raw, entry: Entry) -> Iterator[str]:
    if entry.job["weight_kg"] > entry.crew["payload_kg"]:
        yield f"{entry.job['weight_kg']} kg on a vehicle for {entry.crew['payload_kg']} kg"


def _skill_missing(instance: Raw, entry: Entry) -> Iterator[str]:
    for skill in entry.job["skills"]:
        if skill not in entry.crew["skills"]:
            yield f"nobody certified for {skill}"


def _skill_expired(instance: Raw, entry: Entry) -> Iterator[str]:
    for skill in entry.job["skills"]:
        limit = entry.crew["skills"].get(skill)
        if limit is not None and date.fromisoformat(limit) < entry.days[-1]:
            yield f"certificate for {skill} ends {limit}"


def _even_in_morning(instance: Raw, entry: Entry) -> Iterator[str]:
    if entry.halfdays % 2 == 0 and entry.half != "am":
        yield "an even number of half-days starts in the morning"


def _not_before(name: str) -> Callable[[Raw, Entry], Iterator[str]]:
    def broken(instance: Raw, entry: Entry) -> Iterator[str]:
        limit = instance[name] if name in ("today", "first_day") else entry.job[name]
        if entry.days[0] < date.fromisoformat(limit):
            yield f"starts before {name} {limit}"

    return broken


def _after_horizon(instance: Raw, entry: Entry) -> Iterator[str]:
    if entry.days[-1] > date.fromisoformat(instance["last_day"]):
        yield f"ends {entry.days[-1]}, after {instance['last_day']}"


def _weekday(instance: Raw, entry: Entry) -> Iterator[str]:
    for day in entry.days:
        if day.weekday() not in entry.job["weekdays"]:
            yield f"{day} is a weekday the homeowner ruled out"


def _in_blackout(instance: Raw, entry: Entry) -> Iterator[str]:
    for first, last in entry.job["blackout"]:
        for day in entry.days:
            if first <= day.isoformat() <= last:
                yield f"{day} lies in the homeowner's blackout"


def _absent(instance: Raw, entry: Entry) -> Iterator[str]:
    for absence in entry.crew["absences"]:
        for day, half in entry.cells:
            inside = absence["first"] <= day.isoformat() <= absence["last"]
            if inside and absence.get("half") in (None, half):
                yield f"the crew is away {day} {half}"


def _pin_broken(instance: Raw, entry: Entry) -> Iterator[str]:
    for pin in instance.get("pins") or []:
        if pin["job"] == entry.job["id"]:
            have = {"crew": entry.crew["id"], "date": str(entry.first), "half": entry.half}
            for name, value in have.items():
                if pin.get(name) not in (None, value):
                    yield f"pinned to {name} {pin[name]}"


_RULES: dict[str, Callable[[Raw, Entry], Iterator[str]]] = {
    "wrong_halfdays": _wrong_length,
    "too_long": _too_long,
    "too_far": _too_far,
    "crew_too_small": _too_small,
    "over_payload": _over_payload,
    "skill_missing": _skill_missing,
    "skill_expired": _skill_expired,
    "even_starts_pm": _even_in_morning,
    "before_today": _not_before("today"),
    "before_horizon": _not_before("first_day"),
    "before_material": _not_before("material_ready"),
    "before_permit": _not_before("permit_release"),
    "after_horizon": _after_horizon,
    "weekday_not_allowed": _weekday,
    "in_blackout": _in_blackout,
    "crew_absent": _absent,
    "pin_broken": _pin_broken,
}


def _double_bookings(entries: list[Entry]) -> list[Violation]:
    holder: dict[tuple[str, date, str], str] = {}
    found = []
    for entry in entries:
        for day, half in entry.cells:
            other = holder.setdefault((entry.crew["id"], day, half), entry.job["id"])
            if other != entry.job["id"]:
                text = f"{entry.crew['id']} {day} {half}: {other} and {entry.job['id']}"
                found.append(Violation("double_booked", text))
    return found
