"""A crew plan and its ``install-plan/1`` document."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from contractor.engine.rostering import costs
from contractor.engine.rostering.document import HALVES, Half, Instance
from contractor.engine.rostering.fields import Field
from contractor.engine.rostering.reading import read_half

SCHEMA = "install-plan/1"
ENGINE = "tautline set packing on HiGHS and CP-SAT"
What = Literal["moved", "crew", "both", "lost"]


@dataclass(frozen=True)
class Visit:
    """One job in the plan: ``halfdays`` consecutive working half-days of ``crew``."""

    job: str
    crew: str
    date: date
    half: Half
    halfdays: int

    @property
    def when(self) -> tuple[int, int]:
        """Sorts visits in time."""
        return self.date.toordinal(), HALVES.index(self.half)


@dataclass(frozen=True)
class Change:
    """What happened to a promised visit and the event, or the displacement, behind it."""

    what: What
    cause: str


@dataclass(frozen=True)
class InstallPlan:
    """Visits in the order of the instance's jobs; jobs without one are not planned.

    ``bound`` is a proven lower bound on the cost of any plan; ``proven`` means that no
    cheaper plan exists. ``rule`` and ``rule_cost`` tell the best dispatch rule. ``changes``
    is None unless the plan is a re-plan.
    """

    visits: tuple[Visit, ...]
    cost: int
    bound: int
    proven: bool
    seconds: float
    seed: int
    rule: str = ""
    rule_cost: int | None = None
    changes: Mapping[str, Change] | None = None

    @property
    def gap(self) -> float:
        """(cost - bound) / cost, 0 for a plan that costs nothing."""
        return (self.cost - self.bound) / self.cost if self.cost else 0.0

    @property
    def visit_of(self) -> dict[str, Visit]:
        return {visit.job: visit for visit in self.visits}


def plan_to_document(plan: InstallPlan) -> dict[str, object]:
    """Return the ``install-plan/1`` document of ``plan``."""
    document: dict[str, object] = {
        "schema": SCHEMA,
        "plan": {visit.job: _visit_document(visit) for visit in plan.visits},
        "cost": plan.cost,
        "bound": plan.bound,
        "gap": round(plan.gap, 6),
        "proven": plan.proven,
        "seconds": round(plan.seconds, 3),
        "seed": plan.seed,
        "engine": ENGINE,
    }
    if plan.changes is not None:
        document["changes"] = {
            job: {"what": change.what, "cause": change.cause}
            for job, change in sorted(plan.changes.items())
        }
    return document


def _visit_document(visit: Visit) -> dict[str, object]:
    return {
        "crew": visit.crew,
        "date": visit.date.isoformat(),
        "half": visit.half,
        "halfdays": visit.halfdays,
    }


def read_visits(document: object, instance: Instance) -> tuple[Visit, ...]:
    """Return the visits of an ``install-plan/1`` document, in the order of the jobs.

    Jobs and crews must be the instance's. Raises InputError.
    """
    root = Field(document)
    root["schema"].one_of((SCHEMA,))
    found: dict[str, Visit] = {}
    for name, entry in root["plan"].items():
        if name not in instance.job_of:
            raise entry.refuse(
                "unknown_job", f"There is no job {name!r}.", "Use the instance of this plan."
            )
        crew = entry["crew"].text()
        if crew not in instance.crew_of:
            raise entry["crew"].refuse(
                "unknown_crew", f"There is no crew {crew!r}.", "Use the instance of this plan."
            )
        found[name] = Visit(
            name,
            crew,
            entry["date"].day(),
            read_half(entry["half"]),
            entry["halfdays"].whole(least=1),
        )
    return tuple(found[job.id] for job in instance.jobs if job.id in found)


def plan_cost(instance: Instance, visits: Iterable[Visit]) -> int:
    """Cost of exactly these (legal) visits, every other job left out.

    Two half-day jobs on one crew-day share the drive where the instance says so.
    """
    by_job = {visit.job: visit for visit in visits}
    total = sum(
        costs.unplanned_cost(instance, job).total for job in instance.jobs if job.id not in by_job
    )
    days: dict[tuple[str, date], list[Visit]] = {}
    for visit in by_job.values():
        crew = instance.crew_of[visit.crew]
        start = 2 * instance.calendar_of(crew).index_of[visit.date] + HALVES.index(visit.half)
        job = instance.job_of[visit.job]
        total += costs.visit_cost(instance, crew, job, start, visit.halfdays).total
        if visit.halfdays == 1:
            days.setdefault((visit.crew, visit.date), []).append(visit)
    if instance.shared_days:
        total -= sum(_drive_saved(instance, pair) for pair in days.values())
    return total


def _drive_saved(instance: Instance, visits: list[Visit]) -> int:
    if len(visits) < 2:
        return 0
    crew = instance.crew_of[visits[0].crew]
    first, second = (instance.job_of[v.job] for v in sorted(visits, key=lambda v: v.when))
    apart = sum(costs.travel_cost(instance, crew, job, 1) for job in (first, second))
    return apart - costs.shared_travel_cost(instance, crew, first, second)
