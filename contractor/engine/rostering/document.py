"""What a crew plan is made from: crews, jobs, working days and weights as plain values.

Dates are ``datetime.date``, places are kilometres on a flat grid, times of the day are the
two halves of a working day. ``reading`` builds an :class:`Instance` from an
``install-sched/1`` document; ``plan_document`` holds what comes back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Literal

from contractor.engine.rostering.worktime import WorkCalendar

Half = Literal["am", "pm"]
HALVES: tuple[Half, Half] = ("am", "pm")


@dataclass(frozen=True)
class Weights:
    """Integer cost per unit of each kind of trouble; ``sev`` maps severity 1-4 to a factor."""

    tardy_half_day: int
    sev: Mapping[int, int]
    travel_min: int
    weekend_split: int
    crew_change: int
    date_change: int
    date_change_per_day: int
    unscheduled: int


@dataclass(frozen=True)
class Branch:
    """A yard that crews start from. ``holidays`` are days off for its crews only."""

    id: str
    x_km: float
    y_km: float
    holidays: frozenset[date] = frozenset()


@dataclass(frozen=True)
class Absence:
    """First and last day inclusive; ``half`` None means both halves of every day."""

    first: date
    last: date
    half: Half | None
    why: str = ""


@dataclass(frozen=True)
class Crew:
    """``pace`` multiplies ``size``; ``skills`` maps a certificate to its last valid day."""

    id: str
    branch: str
    size: int
    pace: float
    skills: Mapping[str, date]
    payload_kg: float
    absences: tuple[Absence, ...]


@dataclass(frozen=True)
class Slot:
    """Where and when a job starts: crew id, day and half of the day."""

    crew: str
    date: date
    half: Half


@dataclass(frozen=True)
class Pin:
    """A decision of the office: ``job`` stays with this crew and, if given, this start."""

    job: str
    crew: str | None
    date: date | None
    half: Half | None
    owner: str
    reason: str = ""


@dataclass(frozen=True)
class Job:
    """One wall to brace. ``weekdays`` are the days (Monday = 0) that suit the homeowner."""

    id: str
    x_km: float
    y_km: float
    labour_h: float
    skills: tuple[str, ...]
    min_size: int
    weight_kg: float
    material_ready: date
    permit_release: date
    weekdays: frozenset[int]
    blackout: tuple[tuple[date, date], ...]
    severity: int
    due: date
    confirmed: Slot | None
    braces: int = 0


@dataclass(frozen=True)
class Instance:
    """A whole ``install-sched/1`` document. Order of crews and jobs is the document's."""

    today: date
    first_day: date
    last_day: date
    workdays: frozenset[int]
    public_holidays: frozenset[date]
    hours_per_half_day: float
    max_halfdays: int
    max_drive_min: float
    road_factor: float
    speed_kmh: float
    branches: tuple[Branch, ...]
    crews: tuple[Crew, ...]
    jobs: tuple[Job, ...]
    weights: Weights
    pins: tuple[Pin, ...] = ()
    shared_days: bool = False

    @cached_property
    def calendar(self) -> WorkCalendar:
        """The company's working days: weekdays less public holidays, inside the horizon."""
        return WorkCalendar(self.first_day, self.last_day, self.workdays, self.public_holidays)

    @cached_property
    def branch_of(self) -> dict[str, Branch]:
        return {branch.id: branch for branch in self.branches}

    @cached_property
    def crew_of(self) -> dict[str, Crew]:
        return {crew.id: crew for crew in self.crews}

    @cached_property
    def job_of(self) -> dict[str, Job]:
        return {job.id: job for job in self.jobs}

    @cached_property
    def pin_of(self) -> dict[str, Pin]:
        return {pin.job: pin for pin in self.pins}

    @cached_property
    def _calendars(self) -> dict[str, WorkCalendar]:
        return {
            branch.id: self.calendar
            if not branch.holidays
            else WorkCalendar(
                self.first_day,
                self.last_day,
                self.workdays,
                self.public_holidays | branch.holidays,
            )
            for branch in self.branches
        }

    def calendar_of(self, crew: Crew) -> WorkCalendar:
        """The working days of ``crew``: the company's, less its branch's own holidays."""
        return self._calendars[crew.branch]
