"""Reserve and release the material of a job; call a job off."""

from __future__ import annotations

from datetime import datetime

from contractor.api import events
from contractor.api.transactions import service
from inventory import locks as stock_locks
from inventory.models import Kit, KitLine, Reservation
from inventory.services.reserving import check_needs, hold_kit, refuse_if_pulled, release_held
from inventory.states import move_kit
from jobs import locks, states
from jobs.models import Job
from jobs.services import followup
from jobs.services.kits import needs_of


@service
def reserve_job(job_pk: int, *, at: datetime, if_match: int | None = None) -> Job:
    """Make the kit of a released job and hold all of it, or nothing.

    Raises InsufficientStockError with the shortage list; reserving twice is WrongStateError.
    """
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    states.move_job(job, Job.Status.RESERVED)
    kit = _new_kit(job)
    hold_kit(kit, at, None)
    job.kit, job.material_ready = kit, at.date()
    job.save()
    events.record("job.reserved", job, branch=job.branch, kit=kit.pk)
    return job


def _new_kit(job: Job) -> Kit:
    needs = needs_of(job)
    check_needs(job.branch, needs)
    kit = Kit.objects.create(
        branch=job.branch,
        reference=f"job {job.pk}: {job.title}"[:120],
        priority=job.severity,
        needed_on=job.due,
    )
    KitLine.objects.bulk_create(
        KitLine(
            kit=kit,
            part_id=need.part_pk,
            quantity=need.quantity,
            length_ticks=need.length_ticks,
            mark=need.mark,
        )
        for need in needs
    )
    return kit


@service
def release_job_material(job_pk: int, *, if_match: int | None = None) -> Job:
    """Give back what the job has reserved; the job waits for material again."""
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    states.move_job(job, Job.Status.RELEASED)
    _drop_kit(job)
    job.save()
    events.record("job.material_released", job, branch=job.branch)
    return job


@service
def cancel_job(job_pk: int, *, if_match: int | None = None) -> Job:
    """Call a job off: its material is free again, open reminders are cancelled."""
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    states.move_job(job, Job.Status.CANCELLED)
    _drop_kit(job)
    followup.cancel_open(locks.lock_reminders_of(job))
    job.save()
    events.record("job.cancelled", job, branch=job.branch)
    return job


def _drop_kit(job: Job) -> None:
    if job.kit_id is None:
        return
    kit = stock_locks.lock_kit(job.kit_id)
    refuse_if_pulled(kit)
    if kit.status == Kit.Status.RESERVED:
        release_held(kit, Reservation.Status.RELEASED)
    move_kit(kit, Kit.Status.CANCELLED)
    kit.save(update_fields=["status"])
    job.kit, job.material_ready = None, None
