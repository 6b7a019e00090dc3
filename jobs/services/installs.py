"""The install record: opened from the plan, filled brace by brace, closed when complete."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from contractor.api import events
from contractor.api.transactions import service
from contractor.engine import units
from contractor.errors import InvalidValueError, WrongStateError
from jobs import locks, states
from jobs.errors import (
    IncompleteInstallError,
    MeasuredHeightError,
    NoTorqueError,
    OverTorqueError,
    ZeroReadingError,
)
from jobs.install_steps import JOB_STEPS, STEPS
from jobs.models import BraceRecord, InstallRecord, Job, JobWall
from jobs.services import followup, kits, zero_readings

# A beam may be this much shorter than the measured height less its gap asks for, or longer.
HEIGHT_TOLERANCE_TICKS = 2 * 64
RECORD_FIELDS = frozenset(
    {
        "measured_height_ticks",
        "torque_lbf_ft",
        "tool",
        "anchors_set",
        "is_sealed",
        "out_of_plumb_ticks",
        "label_date",
        "skipped",
        "note",
    }
)


@service
def start_install(job_pk: int, *, on: date, if_match: int | None = None) -> InstallRecord:
    """Open the record with one row per planned brace; the crew is on site."""
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    states.move_job(job, Job.Status.INSTALLING)
    job.save()
    install = InstallRecord.objects.create(job=job, branch=job.branch, started_on=on)
    for wall in job.walls.select_related("layout__survey").order_by("pk"):
        BraceRecord.objects.bulk_create(_planned_braces(install, wall))
    events.record("install.started", install, branch=job.branch, job=job.pk)
    return install


def _planned_braces(install: InstallRecord, wall: JobWall) -> list[BraceRecord]:
    layout, screening = wall.layout.layout, wall.layout.screening
    limit = torque_limit(install.job, screening)
    needs_seal = wall.layout.survey.document.get("slab", {}).get("edge_gap") is not None
    return [
        BraceRecord(
            install=install,
            wall=wall.wall,
            mark=brace["mark"],
            planned_height_ticks=units.read_length(brace["beam_length"], "/beam_length"),
            torque_limit_lbf_ft=limit,
            anchors_wanted=anchors_per_brace(screening),
            needs_seal=needs_seal,
        )
        for brace in layout["braces"]
    ]


def torque_limit(job: Job, screening: dict[str, Any]) -> float:
    """Return the torque in lbf ft that nobody may exceed: the engineer's, else the screening's.

    Raises NoTorqueError where neither names one.
    """
    release = job.releases.filter(torque_lbf_ft__isnull=False).order_by("-pk").first()
    if release is not None and release.torque_lbf_ft is not None:
        return release.torque_lbf_ft
    if screening["torque"] is None:
        raise NoTorqueError(
            "The screening could not name a torque for this wall.",
            remedy="Enter the torque that the engineer allows with the release of the job.",
        )
    return units.read_quantity(screening["torque"]["allowed"], "lbf ft", "/torque/allowed")


def anchors_per_brace(screening: dict[str, Any]) -> int:
    return int(screening["fixings"]["base_anchors"]["count"])


@service
def record_brace(
    brace_pk: int, *, at: datetime, if_match: int | None = None, **values: Any
) -> BraceRecord:
    """Write down what was done at one brace; fields not named stay as they are.

    A torque above the limit, a step skipped without a reason, and a height that the cut beam
    cannot fit are refused.
    """
    found = BraceRecord.objects.filter(pk=brace_pk).values_list("install_id", flat=True).first()
    install = locks.lock_install(found or 0)
    brace = locks.lock_brace(brace_pk)
    brace.expect_version(if_match)
    if install.status != InstallRecord.Status.OPEN:
        raise WrongStateError(
            "This install record is closed.", remedy="Open a service visit instead."
        )
    for name in sorted(values):
        if name not in RECORD_FIELDS:
            raise InvalidValueError(f"A brace record has no field {name}.", remedy="Leave it out.")
        setattr(brace, name, values[name])
    _check_brace(brace)
    brace.recorded_at = at
    brace.save()
    events.record("brace.recorded", brace, branch=install.branch, install=install.pk)
    return brace


def _check_brace(brace: BraceRecord) -> None:
    torque, limit = brace.torque_lbf_ft, brace.torque_limit_lbf_ft
    if torque is not None and torque > limit:
        raise OverTorqueError(
            f"{torque:g} lbf ft is above the limit of {limit:g} lbf ft for {brace.mark}.",
            remedy="Loosen the bolt to the limit, look at joist and bracket, then record that.",
            limit_lbf_ft=limit,
        )
    height = brace.measured_height_ticks
    off = None if height is None else abs(height - brace.planned_height_ticks)
    if off is not None and off > HEIGHT_TOLERANCE_TICKS:
        raise MeasuredHeightError(
            f"{brace.mark} was cut for {units.format_length(brace.planned_height_ticks)}; "
            f"{units.format_length(height or 0)} differs by more than the bracket takes up.",
            remedy="Measure again; if it stands, send a new survey of this wall.",
        )
    for step, reason in brace.skipped.items():
        if step not in STEPS or not str(reason).strip():
            raise InvalidValueError(
                f"Skipping {step!r} needs the name of a step and a reason.",
                remedy=f"Steps: {', '.join(STEPS)}.",
            )


@service
def close_install(
    install_pk: int,
    *,
    installed_on: date,
    checklist: dict[str, Any],
    left_with_homeowner: list[str],
    signed_off_by: str,
    no_zero_reading: str = "",
    if_match: int | None = None,
) -> InstallRecord:
    """Close a complete record: the kit is settled, the job installed, the reminders dated.

    Every mark of the survey needs its zero reading; ``no_zero_reading`` says why marks were left
    unmeasured, and the event keeps it. Raises IncompleteInstallError, ZeroReadingError.
    """
    found = InstallRecord.objects.filter(pk=install_pk).values_list("job_id", flat=True).first()
    job = locks.lock_job(found or 0)
    install = locks.lock_install(install_pk)
    install.expect_version(if_match)
    _require_complete(install, checklist, signed_off_by)
    _require_zero_reading(install, no_zero_reading)
    if installed_on < install.started_on:
        raise InvalidValueError(
            "The install ended before it began.", remedy=f"Not before {install.started_on}."
        )
    states.move_install(install, InstallRecord.Status.CLOSED)
    install.installed_on, install.checklist = installed_on, checklist
    install.left_with_homeowner, install.signed_off_by = left_with_homeowner, signed_off_by
    install.save()
    states.move_job(job, Job.Status.INSTALLED)
    job.save()
    kits.settle_used(job)
    followup.date_reminders(job, installed_on)
    why: dict[str, Any] = {"no_zero_reading": no_zero_reading} if no_zero_reading else {}
    events.record("install.closed", install, branch=job.branch, job=job.pk, **why)
    events.record("job.installed", job, branch=job.branch, installed_on=installed_on.isoformat())
    return install


def _require_complete(
    install: InstallRecord, checklist: dict[str, Any], signed_off_by: str
) -> None:
    missing = {
        f"{brace.wall} {brace.mark}": gaps
        for brace in install.braces.order_by("pk")
        if (gaps := missing_in(brace))
    }
    steps = [step for step in JOB_STEPS if not checklist.get(step)]
    if missing or steps or not signed_off_by.strip():
        raise IncompleteInstallError(
            "Closing needs every brace, the last steps and a sign-off.",
            remedy="Fill what is missing, or skip a step with its reason.",
            missing=missing,
            steps=steps,
            signed_off=bool(signed_off_by.strip()),
        )


def _require_zero_reading(install: InstallRecord, why_not: str) -> None:
    marks = zero_readings.unmeasured(install)
    if marks and not why_not.strip():
        raise ZeroReadingError(
            f"Not measured: {'; '.join(map(zero_readings.mark_words, marks))}.",
            remedy="Add a reading of kind bow at each mark, or say why in no_zero_reading.",
            marks=[
                {
                    "wall": mark.wall,
                    "at": units.format_length(mark.at_ticks, 64),
                    "height": units.format_length(mark.height_ticks, 64),
                }
                for mark in marks
            ],
        )


def missing_in(brace: BraceRecord) -> list[str]:
    """Return what a brace record still lacks; a skipped step with its reason lacks nothing."""
    wanted = {
        "dry_fit": brace.measured_height_ticks is not None,
        "tighten": brace.torque_lbf_ft is not None,
        "second_anchor": (brace.anchors_set or 0) >= brace.anchors_wanted,
        "seal": bool(brace.is_sealed) or not brace.needs_seal,
        "plumb": brace.out_of_plumb_ticks is not None,
        "label": brace.label_date is not None,
    }
    return [step for step, is_there in wanted.items() if not is_there and step not in brace.skipped]
