"""What happened since a plan was published, and the instance as it is after that."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal, cast

from contractor.engine.rostering.document import Absence, Half, Instance
from contractor.engine.rostering.fields import Field
from contractor.engine.rostering.reading import read_half, read_span

Kind = Literal[
    "crew_absent", "material_late", "labour_changed", "job_cancelled", "homeowner_blackout"
]
KINDS = ("crew_absent", "material_late", "labour_changed", "job_cancelled", "homeowner_blackout")


@dataclass(frozen=True)
class Event:
    """One event; ``about`` is the crew (``crew_absent``) or the job (all others).

    ``first`` and ``last`` bound an absence or a blackout; ``first`` alone is the new date of
    late material. ``labour_h`` is the new labour of a re-measured job.
    """

    kind: Kind
    about: str
    first: date | None = None
    last: date | None = None
    half: Half | None = None
    labour_h: float | None = None

    def __str__(self) -> str:
        when = " to ".join(str(day) for day in (self.first, self.last) if day is not None)
        parts = [self.about, when, self.half or ""]
        if self.labour_h is not None:
            parts.append(f"{self.labour_h:g} h")
        return f"{self.kind}: {' '.join(part for part in parts if part)}"


def read_events(document: object, instance: Instance) -> tuple[Event, ...]:
    """Return the events of a decoded JSON list. Raises InputError."""
    return tuple(_event(entry, instance) for entry in Field(document).list())


def _event(field: Field, instance: Instance) -> Event:
    kind = cast(Kind, field["kind"].one_of(KINDS))
    if kind == "crew_absent":
        first, last = read_span(field["first"], field["last"])
        half = field.get("half")
        crew = _known(field["crew"], instance.crew_of, "crew")
        return Event(kind, crew, first, last, read_half(half) if half else None)
    job = _known(field["job"], instance.job_of, "job")
    if kind == "material_late":
        return Event(kind, job, field["date"].day())
    if kind == "labour_changed":
        return Event(kind, job, labour_h=field["labour_h"].number(above=0, most=1e6))
    if kind == "homeowner_blackout":
        first, last = read_span(field["first"], field["last"])
        return Event(kind, job, first, last)
    return Event(kind, job)


def _known(field: Field, names: Iterable[str], what: str) -> str:
    name = field.text()
    if name not in names:
        raise field.refuse(
            f"unknown_{what}", f"There is no {what} {name!r}.", f"Name a {what} of the instance."
        )
    return name


def apply_events(instance: Instance, events: Iterable[Event]) -> Instance:
    """The instance after ``events``; cancelled jobs are gone."""
    for event in events:
        instance = _applied(instance, event)
    return instance


def _applied(instance: Instance, event: Event) -> Instance:
    if event.kind == "crew_absent":
        assert event.first is not None and event.last is not None
        absence = Absence(event.first, event.last, event.half, "event")
        return with_absences(instance, {event.about: (absence,)})
    if event.kind == "job_cancelled":
        return replace(instance, jobs=tuple(j for j in instance.jobs if j.id != event.about))
    jobs = list(instance.jobs)
    for number, job in enumerate(jobs):
        if job.id != event.about:
            continue
        if event.kind == "material_late" and event.first is not None:
            jobs[number] = replace(job, material_ready=event.first)
        elif event.kind == "labour_changed" and event.labour_h is not None:
            jobs[number] = replace(job, labour_h=event.labour_h)
        elif event.first is not None and event.last is not None:
            jobs[number] = replace(job, blackout=(*job.blackout, (event.first, event.last)))
    return replace(instance, jobs=tuple(jobs))


def with_absences(instance: Instance, added: dict[str, tuple[Absence, ...]]) -> Instance:
    """The instance with more absences, by crew id."""
    crews = tuple(
        replace(crew, absences=(*crew.absences, *added.get(crew.id, ()))) for crew in instance.crews
    )
    return replace(instance, crews=crews)
