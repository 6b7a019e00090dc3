"""Who holds which half-day in a plan, and the options of one job seen against that."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

from contractor.engine.rostering import costs
from contractor.engine.rostering.costs import CostParts
from contractor.engine.rostering.document import HALVES, Instance, Job
from contractor.engine.rostering.plan_document import Visit


@dataclass(frozen=True)
class Place:
    """One legal option of a job: where, what it costs, and who works there now."""

    visit: Visit
    parts: CostParts
    holders: tuple[str, ...]


@dataclass(frozen=True)
class Board:
    """A legal plan of ``instance``."""

    instance: Instance
    visits: tuple[Visit, ...]

    @classmethod
    def of(cls, instance: Instance, visits: Iterable[Visit]) -> Board:
        return cls(instance, tuple(visits))

    @cached_property
    def visit_of(self) -> dict[str, Visit]:
        return {visit.job: visit for visit in self.visits}

    @cached_property
    def holder_of(self) -> dict[tuple[str, int], str]:
        """Job by crew and half-day of that crew's calendar."""
        return {
            (visit.crew, cell): visit.job for visit in self.visits for cell in self.cells(visit)
        }

    def start_of(self, visit: Visit) -> int:
        """First half-day of ``visit`` in its crew's calendar."""
        calendar = self.instance.calendar_of(self.instance.crew_of[visit.crew])
        return 2 * calendar.index_of[visit.date] + HALVES.index(visit.half)

    def cells(self, visit: Visit) -> range:
        start = self.start_of(visit)
        return range(start, start + visit.halfdays)

    def holders(self, visit: Visit) -> tuple[str, ...]:
        """Other jobs on the half-days of ``visit``, in order of time."""
        found = [self.holder_of.get((visit.crew, cell)) for cell in self.cells(visit)]
        return tuple(dict.fromkeys(job for job in found if job not in (None, visit.job) and job))

    def parts(self, visit: Visit) -> CostParts:
        crew, job = self.instance.crew_of[visit.crew], self.instance.job_of[visit.job]
        start = self.start_of(visit)
        return costs.visit_cost(self.instance, crew, job, start, visit.halfdays)

    def places(self, job: Job, instance: Instance | None = None) -> list[Place]:
        """The legal options of ``job``, cheapest first, then earliest; holders from this plan.

        ``instance`` may be a variant of the plan's with the same crews and days.
        """
        rules = replace(instance or self.instance, jobs=(job,), shared_days=False)
        found = [self._place(visit) for visit in legal_visits(rules)]
        return sorted(found, key=lambda place: (place.parts.total, place.visit.when))

    def _place(self, visit: Visit) -> Place:
        return Place(visit, self.parts(visit), self.holders(visit))


def legal_visits(instance: Instance) -> list[Visit]:
    """Every legal option of the instance as a visit, by crew, start and job."""
    from contractor.engine.rostering.optimize import visit_at
    from contractor.engine.rostering.options import build_options

    table = build_options(instance)
    return [
        visit_at(instance, *row)
        for row in zip(
            table.job.tolist(),
            table.crew.tolist(),
            table.start.tolist(),
            table.length.tolist(),
            strict=True,
        )
    ]
