"""Service visits over several days: who can go when, and what a visit costs.

Times are whole minutes after local midnight in the branch's zone, travel whole minutes.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property

DAY_MINUTES = 1440


@dataclass(frozen=True)
class MemberDay:
    """One member on one day: leaves ``start`` not before ``opens``, is at ``end`` by ``closes``.

    ``start`` and ``end`` are places by number. ``max_minutes`` limits the time between the two;
    ``day_cost`` is paid when the member goes out at all.
    """

    member: str
    day: date
    start: int
    end: int
    opens: int
    closes: int
    skills: frozenset[str] = frozenset()
    max_minutes: int | None = None
    day_cost: int = 0


@dataclass(frozen=True)
class VisitWindow:
    """Work may start from ``opens`` to ``closes``; ``cost`` is paid for taking this window."""

    day: date
    opens: int
    closes: int
    cost: int = 0


@dataclass(frozen=True)
class Visit:
    """``missed_cost`` None: it must be made. ``members`` None: by anyone with the skills."""

    id: str
    place: int
    minutes: int
    windows: tuple[VisitWindow, ...]
    skills: frozenset[str] = frozenset()
    members: frozenset[str] | None = None
    missed_cost: int | None = None


@dataclass(frozen=True)
class VisitProblem:
    """``minutes[i][j]`` is the drive from place i to place j; ``travel_min`` its cost a minute."""

    places: tuple[str, ...]
    minutes: tuple[tuple[int, ...], ...]
    member_days: tuple[MemberDay, ...]
    visits: tuple[Visit, ...]
    travel_min: int = 1
    name: str = ""

    @cached_property
    def first_day(self) -> date:
        days = [one.day for one in self.member_days]
        days += [window.day for visit in self.visits for window in visit.windows]
        return min(days)

    def clock(self, day: date, minute: int) -> int:
        """Return minutes since midnight of the first day: one time axis for all days."""
        return (day - self.first_day).days * DAY_MINUTES + minute


@dataclass(frozen=True)
class Stop:
    """``arrive`` before ``start`` means waiting; times in minutes after midnight of ``day``."""

    visit: str
    member: str
    day: date
    arrive: int
    start: int
    finish: int
    window: int


@dataclass(frozen=True)
class CostParts:
    travel: int
    days: int
    windows: int
    missed: int

    @property
    def total(self) -> int:
        return self.travel + self.days + self.windows + self.missed


@dataclass(frozen=True)
class Missed:
    visit: str
    reason: str


@dataclass(frozen=True)
class VisitPlan:
    stops: tuple[Stop, ...]
    missed: tuple[Missed, ...]
    cost: CostParts
    travel_minutes: int
    is_feasible: bool
    iterations: int
    seconds: float
    seed: int
    engine: str


def is_eligible(visit: Visit, member_day: MemberDay) -> bool:
    """Whether the member may make the visit at all, whatever the time."""
    is_allowed = visit.members is None or member_day.member in visit.members
    return is_allowed and visit.skills <= member_day.skills


def fits_alone(
    problem: VisitProblem, visit: Visit, window: VisitWindow, member_day: MemberDay
) -> bool:
    """Whether the member could make this visit in this window with nothing else to do."""
    if window.day != member_day.day:
        return False
    out = problem.minutes[member_day.start][visit.place]
    back = problem.minutes[visit.place][member_day.end]
    start = max(window.opens, member_day.opens + out)
    return (
        start <= window.closes
        and start + visit.minutes + back <= member_day.closes
        and (member_day.max_minutes is None or out + visit.minutes + back <= member_day.max_minutes)
    )


def obstacle(problem: VisitProblem, visit: Visit) -> str | None:
    """Return why nobody could ever make the visit, or None where somebody could."""
    eligible = [one for one in problem.member_days if is_eligible(visit, one)]
    if not eligible:
        skills = ", ".join(sorted(visit.skills)) or "none"
        return f"no member may make it (skills needed: {skills})"
    days = {window.day for window in visit.windows}
    on_day = [one for one in eligible if one.day in days]
    if not on_day:
        return "no member who may make it works on a day of its windows"
    if not any(
        fits_alone(problem, visit, window, one) for window in visit.windows for one in on_day
    ):
        return "travel and work do not fit between its windows and any member's day"
    return None
