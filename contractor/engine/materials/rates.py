"""What an hour, a mile and a task cost a company, as data: ``company-rates/1``."""

from __future__ import annotations

from dataclasses import dataclass

from contractor.engine.materials.fields import (
    read_choice,
    read_count,
    read_hours,
    read_list,
    read_object,
    read_schema,
    read_text,
)
from contractor.engine.units import read_quantity

PER: tuple[str, ...] = (
    *("job", "wall", "brace", "backer", "block", "furring_piece", "special_moved", "sealed_hole"),
)
_MEMBERS = {
    *("schema", "name", "note", "currency", "labour_cents_per_hour", "bar_waste_percent"),
    *("sawcut_cents", "travel", "tasks"),
}


@dataclass(frozen=True)
class Task:
    """Labour hours (of one person) for each ``per``."""

    task: str
    text: str
    per: str
    hours: float


@dataclass(frozen=True)
class Rates:
    name: str
    currency: str
    labour_cents_per_hour: int
    bar_waste_percent: int
    sawcut_cents: int
    cents_per_mile: int
    crew_size: int
    hours_per_day: float
    tasks: tuple[Task, ...]


@dataclass(frozen=True)
class Travel:
    """One way, from the branch to the site."""

    distance_mi: float
    drive_min: float


def read_rates(document: object, pointer: str = "/rates") -> Rates:
    """Read ``company-rates/1``. Raises InputError."""
    read_schema(document, "company-rates/1", pointer)
    members = read_object(document, pointer, _MEMBERS)
    travel = read_object(
        members.get("travel"), f"{pointer}/travel", {"cents_per_mile", "crew_size", "hours_per_day"}
    )
    rows = read_list(members.get("tasks"), f"{pointer}/tasks", most=200)
    return Rates(
        name=read_text(members.get("name"), f"{pointer}/name"),
        currency=read_text(members.get("currency", "USD"), f"{pointer}/currency", most=3),
        labour_cents_per_hour=read_count(
            members.get("labour_cents_per_hour"), f"{pointer}/labour_cents_per_hour"
        ),
        bar_waste_percent=read_count(
            members.get("bar_waste_percent", 0), f"{pointer}/bar_waste_percent", most=100
        ),
        sawcut_cents=read_count(members.get("sawcut_cents", 0), f"{pointer}/sawcut_cents"),
        cents_per_mile=read_count(
            travel.get("cents_per_mile"), f"{pointer}/travel/cents_per_mile", most=100_000
        ),
        crew_size=read_count(travel.get("crew_size"), f"{pointer}/travel/crew_size", 20, 1),
        hours_per_day=read_hours(travel.get("hours_per_day"), f"{pointer}/travel/hours_per_day")
        or 8.0,
        tasks=tuple(_read_task(row, f"{pointer}/tasks/{i}") for i, row in enumerate(rows)),
    )


def _read_task(row: object, pointer: str) -> Task:
    members = read_object(row, pointer, {"task", "text", "per", "hours"})
    return Task(
        task=read_text(members.get("task"), f"{pointer}/task", most=40),
        text=read_text(members.get("text"), f"{pointer}/text"),
        per=read_choice(members.get("per"), f"{pointer}/per", PER),
        hours=read_hours(members.get("hours"), f"{pointer}/hours"),
    )


def read_travel(document: object, pointer: str = "/travel") -> Travel | None:
    """Read ``{"distance": 18 mi, "drive": 32 min}``, both one way; None where not given."""
    if document is None:
        return None
    members = read_object(document, pointer, {"distance", "drive"})
    return Travel(
        distance_mi=read_quantity(members.get("distance"), "mi", f"{pointer}/distance"),
        drive_min=read_quantity(members.get("drive"), "min", f"{pointer}/drive"),
    )
