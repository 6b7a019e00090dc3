"""The checker's own reading of an instance and a plan: days counted one by one.

Shares no code with the optimizer; everything comes from the raw JSON documents.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

ONE_DAY = timedelta(days=1)
Raw = dict[str, Any]


@dataclass(frozen=True)
class Violation:
    """A rule that a plan breaks; ``code`` is stable, ``text`` is for people."""

    code: str
    text: str


@dataclass(frozen=True)
class Entry:
    """A visit of the plan with everything the rules ask about it."""

    job: Raw
    crew: Raw
    first: date
    half: str
    halfdays: int
    cells: tuple[tuple[date, str], ...]

    @property
    def days(self) -> list[date]:
        return sorted({day for day, _ in self.cells})

    def __str__(self) -> str:
        return f"{self.job['id']} with {self.crew['id']} from {self.first} {self.half}"


def read_entry(instance: Raw, name: str, raw: Any) -> tuple[Violation | None, Entry | None]:
    jobs = {job["id"]: job for job in instance["jobs"]}
    crews = {crew["id"]: crew for crew in instance["crews"]}
    if name not in jobs:
        return Violation("unknown_job", f"{name} is no job of the instance."), None
    if not isinstance(raw, dict) or raw.get("crew") not in crews:
        return Violation("unknown_crew", f"{name} has no crew of the instance."), None
    try:
        first = date.fromisoformat(str(raw.get("date")))
    except ValueError:
        return Violation("bad_date", f"{name} has no date."), None
    if raw.get("half") not in ("am", "pm"):
        return Violation("bad_half", f"{name} starts neither am nor pm."), None
    count = raw.get("halfdays")
    if isinstance(count, bool) or not isinstance(count, int) or count < 1:
        return Violation("bad_halfdays", f"{name} has no number of half-days."), None
    crew = crews[raw["crew"]]
    if not is_working(instance, crew, first):
        return Violation("not_a_working_day", f"{name} starts on {first}, a day off."), None
    cells = tuple(cells_of(instance, crew, first, raw["half"], min(count, 1000)))
    return None, Entry(jobs[name], crew, first, raw["half"], count, cells)


def holidays(instance: Raw, crew: Raw | None) -> set[str]:
    own: list[str] = []
    if crew is not None:
        own = next(
            b.get("holidays") or [] for b in instance["branches"] if b["id"] == crew["branch"]
        )
    return set(instance["public_holidays"]) | set(own)


def is_working(instance: Raw, crew: Raw | None, day: date) -> bool:
    return day.weekday() in instance["workdays_per_week"] and day.isoformat() not in holidays(
        instance, crew
    )


def cells_of(
    instance: Raw, crew: Raw, first: date, half: str, count: int
) -> Iterator[tuple[date, str]]:
    """The half-days of a visit: working ones in a row, days off skipped."""
    day = first
    while count > 0:
        if is_working(instance, crew, day):
            for part in ("am", "pm"):
                if (day > first or part >= half) and count > 0:
                    yield day, part
                    count -= 1
        day += ONE_DAY


def kilometres(a: list[float], b: list[float]) -> float:
    return math.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2)


def yard(instance: Raw, crew: Raw) -> list[float]:
    place: list[float] = next(b["xy"] for b in instance["branches"] if b["id"] == crew["branch"])
    return place


def minutes(instance: Raw, kilometres: float) -> float:
    return 60.0 * kilometres * float(instance["road_factor"]) / float(instance["speed_kmh"])


def drive(instance: Raw, entry: Entry) -> float:
    return minutes(instance, kilometres(yard(instance, entry.crew), entry.job["xy"]))


def needed_halfdays(instance: Raw, entry: Entry) -> int | None:
    at_work_h: float = instance["hours_per_half_day"] - drive(instance, entry) / 120.0
    if at_work_h <= 0:
        return None
    share: float = entry.job["labour_h"] / (entry.crew["size"] * entry.crew["pace"] * at_work_h)
    whole = math.floor(share)
    return max(1, whole if share - whole < 1e-9 else whole + 1)
