"""``install-sched/1`` documents read into an :class:`Instance`, or refused with a pointer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TypeVar, cast

from contractor.engine.errors import InputError
from contractor.engine.rostering.document import (
    HALVES,
    Absence,
    Branch,
    Crew,
    Half,
    Instance,
    Job,
    Pin,
    Slot,
    Weights,
)
from contractor.engine.rostering.fields import Field

SCHEMA = "install-sched/1"
SEVERITIES = (1, 2, 3, 4)
LONGEST_HORIZON_DAYS = 732
MOST_ENTRIES = 5000  # with the largest weights, sums still fit 64 bits
_Named = TypeVar("_Named", Branch, Crew, Job)


def read_instance(document: object) -> Instance:
    """Return the instance in ``document`` (decoded JSON).

    Optional members beyond the format: ``branches[].holidays``, ``pins`` and
    ``shared_days`` (two half-day jobs of one crew-day share the drive). Raises InputError.
    """
    root = Field(document)
    root["schema"].one_of((SCHEMA,))
    branches = _named(root["branches"], _branch)
    crews = _named(root["crews"], lambda field: _crew(field, {b.id for b in branches}))
    known = {crew.id for crew in crews}
    jobs = _named(root["jobs"], lambda field: _job(field, known))
    first_day, last_day = _horizon(root)
    return Instance(
        today=root["today"].day(),
        first_day=first_day,
        last_day=last_day,
        workdays=_weekdays(root["workdays_per_week"]),
        public_holidays=frozenset(f.day() for f in root["public_holidays"].list()),
        hours_per_half_day=root["hours_per_half_day"].number(above=0),
        max_halfdays=root["max_halfdays"].whole(least=1, most=60),
        max_drive_min=root["max_drive_min"].number(least=0, most=1440),
        road_factor=root["road_factor"].number(above=0),
        speed_kmh=root["speed_kmh"].number(above=0),
        branches=branches,
        crews=crews,
        jobs=jobs,
        weights=_weights(root["weights"]),
        pins=_pins(root, {job.id for job in jobs}, known),
        shared_days=_flag(root, "shared_days"),
    )


def _horizon(root: Field) -> tuple[date, date]:
    first_day, last_day = root["first_day"].day(), root["last_day"].day()
    if last_day < first_day:
        raise root["last_day"].refuse(
            "empty_horizon", "The last day lies before the first.", "Swap the two days."
        )
    if (last_day - first_day).days >= LONGEST_HORIZON_DAYS:
        raise root["last_day"].refuse(
            "horizon_too_long", "The horizon is longer than two years.", "Plan fewer days."
        )
    return first_day, last_day


def _named(field: Field, read: Callable[[Field], _Named]) -> tuple[_Named, ...]:
    found: dict[str, _Named] = {}
    if len(field.list()) > MOST_ENTRIES:
        raise field.refuse(
            "list_too_long", f"More than {MOST_ENTRIES} entries.", "Split the plan by branch."
        )
    for entry in field.list():
        thing = read(entry)
        if thing.id in found:
            raise entry["id"].refuse(
                "duplicate_id", f"The id {thing.id!r} is used twice.", "Give each its own id."
            )
        found[thing.id] = thing
    return tuple(found.values())


def _weekdays(field: Field) -> frozenset[int]:
    return frozenset(entry.whole(least=0, most=6) for entry in field.list())


def _flag(root: Field, name: str) -> bool:
    field = root.get(name)
    if field is None:
        return False
    if not isinstance(field.value, bool):
        raise field.refuse("not_a_flag", f"{field.value!r} is not true or false.", "Write true.")
    return field.value


def _place(field: Field) -> tuple[float, float]:
    entries = field.list()
    if len(entries) != 2:
        raise field.refuse("not_a_place", "A place has two numbers.", "Write [x, y] in km.")
    return entries[0].number(), entries[1].number()


def _branch(field: Field) -> Branch:
    x_km, y_km = _place(field["xy"])
    holidays = field.get("holidays")
    days = frozenset(entry.day() for entry in holidays.list()) if holidays else frozenset()
    return Branch(field["id"].text(), x_km, y_km, days)


def _crew(field: Field, branches: set[str]) -> Crew:
    return Crew(
        id=field["id"].text(),
        branch=_known(field["branch"], branches, "branch"),
        size=field["size"].whole(least=1, most=1000),
        pace=field["pace"].number(above=0),
        skills={name: entry.day() for name, entry in sorted_items(field["skills"])},
        payload_kg=field["payload_kg"].number(least=0),
        absences=tuple(read_absence(entry) for entry in field["absences"].list()),
    )


def sorted_items(field: Field) -> list[tuple[str, Field]]:
    return sorted(field.items(), key=lambda item: item[0])


def read_absence(field: Field) -> Absence:
    """An absence, or the same members of a ``crew_absent`` event."""
    first, last = read_span(field["first"], field["last"])
    half, why = field.get("half"), field.get("why")
    return Absence(first, last, read_half(half) if half else None, why.text() if why else "")


def read_half(field: Field) -> Half:
    return cast(Half, field.one_of(HALVES))


def read_span(first: Field, last: Field) -> tuple[date, date]:
    """Two days in order, the last included."""
    span = first.day(), last.day()
    if span[1] < span[0]:
        raise last.refuse("span_backwards", "The last day lies before the first.", "Swap them.")
    return span


def _known(field: Field, names: set[str], kind: str) -> str:
    name = field.text()
    if name not in names:
        raise field.refuse(
            f"unknown_{kind}", f"There is no {kind} {name!r}.", f"Name one of the {kind} ids."
        )
    return name


def _job(field: Field, crews: set[str]) -> Job:
    x_km, y_km = _place(field["xy"])
    braces = field.get("braces")
    return Job(
        id=field["id"].text(),
        x_km=x_km,
        y_km=y_km,
        labour_h=field["labour_h"].number(above=0),
        skills=tuple(sorted({entry.text() for entry in field["skills"].list()})),
        min_size=field["min_size"].whole(most=1000),
        weight_kg=field["weight_kg"].number(least=0),
        material_ready=field["material_ready"].day(),
        permit_release=field["permit_release"].day(),
        weekdays=_weekdays(field["weekdays"]),
        blackout=tuple(_blackout(entry) for entry in field["blackout"].list()),
        severity=field["severity"].whole(least=SEVERITIES[0], most=SEVERITIES[-1]),
        due=field["due"].day(),
        confirmed=_confirmed(field, crews),
        braces=braces.whole() if braces else 0,
    )


def _blackout(field: Field) -> tuple[date, date]:
    entries = field.list()
    if len(entries) != 2:
        raise field.refuse("not_a_span", "A blackout has two days.", "Write [first, last].")
    return read_span(entries[0], entries[1])


def _confirmed(job: Field, crews: set[str]) -> Slot | None:
    field = job.get("confirmed")
    if field is None:
        return None
    crew = _known(field["crew"], crews, "crew")
    return Slot(crew, field["date"].day(), read_half(field["half"]))


def _weights(field: Field) -> Weights:
    sev = field["sev"]
    return Weights(
        tardy_half_day=field["tardy_half_day"].whole(most=10**5),
        sev={level: sev[str(level)].whole(most=10**3) for level in SEVERITIES},
        travel_min=field["travel_min"].whole(most=10**5),
        weekend_split=field["weekend_split"].whole(most=10**6),
        crew_change=field["crew_change"].whole(most=10**6),
        date_change=field["date_change"].whole(most=10**6),
        date_change_per_day=field["date_change_per_day"].whole(most=10**5),
        unscheduled=field["unscheduled"].whole(most=10**6),
    )


def _pins(root: Field, jobs: set[str], crews: set[str]) -> tuple[Pin, ...]:
    field = root.get("pins")
    found: dict[str, Pin] = {}
    for entry in field.list() if field else []:
        pin = _pin(entry, jobs, crews)
        if pin.job in found:
            raise entry["job"].refuse(
                "duplicate_pin", f"The job {pin.job!r} is pinned twice.", "Keep one pin."
            )
        found[pin.job] = pin
    return tuple(found.values())


def _pin(field: Field, jobs: set[str], crews: set[str]) -> Pin:
    crew, day, half = field.get("crew"), field.get("date"), field.get("half")
    reason = field.get("reason")
    if crew is None and day is None:
        raise InputError(
            "empty_pin", field.pointer, "A pin names a crew, a date or both.", "Add one of them."
        )
    return Pin(
        job=_known(field["job"], jobs, "job"),
        crew=_known(crew, crews, "crew") if crew else None,
        date=day.day() if day else None,
        half=read_half(half) if half else None,
        owner=field["owner"].text(),
        reason=reason.text() if reason else "",
    )
