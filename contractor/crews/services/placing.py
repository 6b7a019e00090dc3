"""Bring visits in line with a plan that is being published."""

from __future__ import annotations

from collections.abc import Set
from datetime import date
from typing import Any

from contractor.api import events
from contractor.api.models import Branch
from contractor.crews import locks, states
from contractor.crews.models import CrewPlan, Visit
from contractor.engine.errors import InputError
from contractor.engine.rostering.document import HALVES, Instance
from contractor.engine.rostering.reading import read_instance
from jobs import locks as job_locks
from jobs import states as job_states
from jobs.models import Job

V = Visit.Status


def last_half_day(
    instance: Instance, crew: str, start: date, half: str, count: int
) -> tuple[date, str]:
    """Return the last half-day of ``count`` working half-days from a start on, for a crew."""
    calendar = instance.calendar_of(instance.crew_of[crew])
    cell = 2 * calendar.index_of[start] + HALVES.index("pm" if half == "pm" else "am") + count - 1
    if cell >= calendar.halfdays:
        raise InputError("outside_horizon", "/plan", "A visit ends after the plan.", "Widen it.")
    return calendar.days[cell // 2], HALVES[cell % 2]


def place_visits(plan: CrewPlan, branch: Branch, standing: Set[int]) -> dict[str, int]:
    """Create, move and cancel the visits of a locked branch; return the counts.

    ``standing`` are keys of visits that no plan touches.
    """
    placer = _Placer(plan, branch)
    open_visits = [visit for visit in locks.lock_open_visits(branch) if visit.pk not in standing]
    visits = {visit.job_id: visit for visit in open_visits}
    wanted = {int(job): slot for job, slot in sorted(plan.plan["plan"].items())}
    counts = {"new": 0, "moved": 0, "resized": 0, "untouched": 0, "cancelled": 0}
    for job_pk in sorted(visits.keys() - wanted.keys()):
        withdraw(visits[job_pk], placer.cause_of(job_pk))
        counts["cancelled"] += 1
    # Two steps, so that visits which swap places never collide in the table's constraints.
    moving = {pk for pk in wanted if pk in visits and not _starts_same(visits[pk], wanted[pk])}
    for job_pk in sorted(moving):
        _park(visits[job_pk])
    for job_pk, slot in sorted(wanted.items()):
        counts[placer.place(job_pk, slot, visits.get(job_pk), is_moving=job_pk in moving)] += 1
    return counts


def _starts_same(visit: Visit, slot: dict[str, Any]) -> bool:
    place = (str(visit.crew_id), visit.date.isoformat(), visit.half)
    return place == (slot["crew"], slot["date"], slot["half"])


def withdraw(visit: Visit, cause: str) -> None:
    """Cancel a locked visit; a job that was planned waits for the next plan."""
    was_confirmed = visit.status == V.CONFIRMED
    states.move_visit(visit, V.CANCELLED)
    visit.sequence += 1
    visit.save()
    job = job_locks.lock_job(visit.job_id)
    if job.status == Job.Status.PLANNED:
        job_states.move_job(job, Job.Status.RESERVED)
        job.save()
    events.record(
        "visit.cancelled",
        visit,
        branch=visit.branch,
        job=job.pk,
        was_confirmed=was_confirmed,
        cause=cause,
    )


def _park(visit: Visit) -> None:
    """Free the visit's old half-day: a date before any plan, another one per visit."""
    parked = date.fromordinal(1 + visit.pk % 300_000)
    Visit.objects.filter(pk=visit.pk).update(date=parked)


class _Placer:
    """Writes the visits of one plan."""

    def __init__(self, plan: CrewPlan, branch: Branch) -> None:
        self.plan, self.branch = plan, branch
        self.instance = read_instance(plan.instance)
        self.causes = {
            one["job"]: one["cause"]
            for kind in ("confirmed", "tentative")
            for one in plan.report.get(kind, [])
        }

    def cause_of(self, job_pk: int) -> str:
        return str(self.causes.get(job_pk, "the job is not to be built now"))

    def place(
        self, job_pk: int, slot: dict[str, Any], visit: Visit | None, *, is_moving: bool
    ) -> str:
        """Write one visit; return what happened to it, a key of the counts."""
        if visit is None:
            self.add(job_pk, slot)
            return "new"
        if is_moving:
            self.move(visit, slot)
            return "moved"
        return "resized" if self.keep(visit, slot) else "untouched"

    def add(self, job_pk: int, slot: dict[str, Any]) -> None:
        visit = Visit(branch=self.branch, job_id=job_pk, plan=self.plan)
        self._set_slot(visit, slot)
        visit.save()
        job = job_locks.lock_job(job_pk)
        if job.status == Job.Status.RESERVED:
            job_states.move_job(job, Job.Status.PLANNED)
            job.save()
        events.record("visit.placed", visit, branch=self.branch, job=job_pk, **_place(visit))

    def move(self, visit: Visit, slot: dict[str, Any]) -> None:
        """Move a visit. One that was confirmed is tentative again: somebody has to call."""
        before = _place(visit)
        was_confirmed = visit.status == V.CONFIRMED
        visit.plan = self.plan
        self._set_slot(visit, slot)
        visit.sequence += 1
        if was_confirmed:
            states.move_visit(visit, V.TENTATIVE)
        visit.save()
        events.record(
            "visit.moved",
            visit,
            branch=self.branch,
            job=visit.job_id,
            was_confirmed=was_confirmed,
            before=before,
            after=_place(visit),
            cause=self.causes.get(visit.job_id, ""),
        )

    def keep(self, visit: Visit, slot: dict[str, Any]) -> bool:
        """Leave crew and start; return whether it ends elsewhere (re-measured, a new holiday)."""
        before = visit.half_days, visit.last_date, visit.last_half
        visit.plan = self.plan
        self._set_slot(visit, slot)
        is_resized = before != (visit.half_days, visit.last_date, visit.last_half)
        visit.sequence += is_resized
        visit.save()
        if is_resized:
            events.record(
                "visit.resized",
                visit,
                branch=self.branch,
                job=visit.job_id,
                half_days=visit.half_days,
                last_date=visit.last_date.isoformat(),
            )
        return is_resized

    def _set_slot(self, visit: Visit, slot: dict[str, Any]) -> None:
        start = date.fromisoformat(slot["date"])
        visit.crew_id, visit.date, visit.half = int(slot["crew"]), start, slot["half"]
        visit.half_days = slot["halfdays"]
        visit.last_date, visit.last_half = last_half_day(
            self.instance, slot["crew"], start, slot["half"], slot["halfdays"]
        )


def _place(visit: Visit) -> dict[str, Any]:
    return {"crew": visit.crew_id, "date": visit.date.isoformat(), "half": visit.half}
