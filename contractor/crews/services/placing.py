"""Bring visits in line with a plan that is being published."""

from __future__ import annotations

from datetime import date
from typing import Any

from contractor.api import events
from contractor.api.models import Branch
from contractor.crews import locks, states
from contractor.crews.models import CrewPlan, Visit
from contractor.engine.errors import InputError
from contractor.engine.rostering.document import HALVES
from contractor.engine.rostering.reading import read_instance
from jobs import locks as job_locks
from jobs import states as job_states
from jobs.models import Job

V = Visit.Status


def last_half_day(
    document: dict[str, Any], crew: str, start: date, half: str, count: int
) -> tuple[date, str]:
    """Return the last half-day of ``count`` working half-days from a start on, for a crew."""
    instance = read_instance(document)
    calendar = instance.calendar_of(next(one for one in instance.crews if one.id == crew))
    cell = 2 * calendar.index_of[start] + HALVES.index(half) + count - 1
    if cell >= calendar.halfdays:
        raise InputError("outside_horizon", "/plan", "A visit ends after the plan.", "Widen it.")
    return calendar.days[cell // 2], HALVES[cell % 2]


def place_visits(plan: CrewPlan, branch: Branch) -> dict[str, int]:
    """Create, move and cancel the visits of a locked branch; return the counts."""
    visits = {visit.job_id: visit for visit in locks.lock_open_visits(branch)}
    wanted = {int(job): slot for job, slot in sorted(plan.plan["plan"].items())}
    counts = {"new": 0, "moved": 0, "untouched": 0, "cancelled": 0}
    for job_pk in sorted(visits.keys() - wanted.keys()):
        _withdraw(visits[job_pk])
        counts["cancelled"] += 1
    # Two steps, so that visits which swap places never collide in the table's constraints.
    moving = [pk for pk in wanted if pk in visits and not _is_same(visits[pk], wanted[pk])]
    for job_pk in moving:
        _park(visits[job_pk])
    for job_pk in sorted(wanted):
        visit = visits.get(job_pk)
        what = "new" if visit is None else "moved" if job_pk in moving else "untouched"
        _place(plan, branch, job_pk, wanted[job_pk], visit, what)
        counts[what] += 1
    return counts


def _is_same(visit: Visit, slot: dict[str, Any]) -> bool:
    place = (str(visit.crew_id), visit.date.isoformat(), visit.half, visit.half_days)
    return place == (slot["crew"], slot["date"], slot["half"], slot["halfdays"])


def _withdraw(visit: Visit) -> None:
    states.move_visit(visit, V.CANCELLED)
    visit.sequence += 1
    visit.save()
    job = job_locks.lock_job(visit.job_id)
    if job.status == Job.Status.PLANNED:
        job_states.move_job(job, Job.Status.RESERVED)
        job.save()
    events.record("visit.cancelled", visit, branch=visit.branch, job=job.pk)


def _park(visit: Visit) -> None:
    """Free the visit's old half-day: a date before any plan, unique per visit."""
    Visit.objects.filter(pk=visit.pk).update(date=date.min, half="am", crew_id=visit.crew_id)
    Visit.objects.filter(pk=visit.pk).update(date=date.fromordinal(visit.pk))


def _place(
    plan: CrewPlan,
    branch: Branch,
    job_pk: int,
    slot: dict[str, Any],
    visit: Visit | None,
    what: str,
) -> None:
    if visit is None:
        visit = Visit(branch=branch, job_id=job_pk)
    visit.plan = plan
    if what != "untouched":
        _set_slot(plan, visit, slot)
        visit.sequence += 0 if what == "new" else 1
        if visit.status == V.CONFIRMED:
            states.move_visit(visit, V.TENTATIVE)
    visit.save()
    if what == "new":
        job = job_locks.lock_job(job_pk)
        if job.status == Job.Status.RESERVED:
            job_states.move_job(job, Job.Status.PLANNED)
            job.save()
    if what != "untouched":
        events.record(f"visit.{'placed' if what == 'new' else what}", visit, branch=branch)


def _set_slot(plan: CrewPlan, visit: Visit, slot: dict[str, Any]) -> None:
    start = date.fromisoformat(slot["date"])
    visit.crew_id, visit.date, visit.half = int(slot["crew"]), start, slot["half"]
    visit.half_days = slot["halfdays"]
    visit.last_date, visit.last_half = last_half_day(
        plan.instance, slot["crew"], start, slot["half"], slot["halfdays"]
    )
