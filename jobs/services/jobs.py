"""Open, release, change and cancel jobs."""

from __future__ import annotations

from datetime import date
from typing import Any

from contractor.api import events
from contractor.api.actor import current_actor
from contractor.api.transactions import service
from contractor.errors import InvalidValueError
from jobs import locks, states
from jobs.errors import NoLayoutError, OutdatedLayoutError
from jobs.models import Blackout, BraceLayout, EngineerRelease, Job, JobWall, Site
from jobs.services import followup

REVIEW = BraceLayout.Outcome.REVIEW


@service
def open_job(
    *, site_pk: int, title: str, layout_pks: list[int], severity: int, due: date, **wishes: Any
) -> Job:
    """Open a job that builds these layouts, one per wall, all of this site.

    ``wishes`` are fields of Job that the office sets (skills, weekdays, min_crew_size,
    permit_release). A layout that needs an engineer opens the job in review.
    """
    site = locks.lock_site(site_pk)
    layouts = _layouts_of(site, layout_pks)
    job = Job(site=site, branch=site.branch, title=title, severity=severity, due=due, **wishes)
    if any(layout.outcome == REVIEW for layout in layouts):
        job.status = Job.Status.IN_REVIEW
    _add_up(job, layouts)
    job.save()
    for layout in layouts:
        JobWall.objects.create(job=job, wall=layout.survey.wall, layout=layout)
    events.record("job.opened", job, branch=job.branch, status=job.status)
    return job


def _layouts_of(site: Site, layout_pks: list[int]) -> list[BraceLayout]:
    layouts = list(
        BraceLayout.objects.select_related("survey")
        .filter(pk__in=layout_pks, survey__site=site)
        .order_by("pk")
    )
    if not layouts or len(layouts) != len(set(layout_pks)):
        raise InvalidValueError(
            "A job builds one or more layouts of its own site.",
            remedy="Name layouts that belong to this site.",
            found=[layout.pk for layout in layouts],
        )
    walls = [layout.survey.wall for layout in layouts]
    if len(walls) != len(set(walls)):
        raise InvalidValueError(
            "Two of these layouts are of the same wall.", remedy="Name one layout per wall."
        )
    for layout in layouts:
        _require_current(layout)
    return layouts


def _require_current(layout: BraceLayout) -> None:
    if layout.outcome == BraceLayout.Outcome.NO_LAYOUT:
        raise NoLayoutError(
            f"No layout meets the rules on {layout.survey.wall}.",
            remedy="Read what would help in the layout's no_answer, change the survey or rules.",
            layout=layout.pk,
        )
    survey = layout.survey
    newest = survey.site.surveys.filter(wall=survey.wall).order_by("-revision").first()
    if newest is not None and newest.pk != survey.pk:
        raise OutdatedLayoutError(
            f"{survey.wall} has been measured again (revision {newest.revision}).",
            remedy="Lay out the newest survey and use that layout.",
            newest_survey=newest.pk,
        )


def _add_up(job: Job, layouts: list[BraceLayout]) -> None:
    job.labour_minutes = sum(layout.labour_minutes for layout in layouts)
    job.weight_lb = sum(layout.weight_lb for layout in layouts)
    job.brace_count = sum(layout.brace_count for layout in layouts)


@service
def release_job(
    job_pk: int,
    *,
    engineer: str,
    licence: str,
    released_on: date,
    note: str = "",
    torque_lbf_ft: float | None = None,
    if_match: int | None = None,
) -> Job:
    """Let a job in review be built, on the word of a licensed engineer."""
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    states.move_job(job, Job.Status.RELEASED)
    EngineerRelease.objects.create(
        job=job,
        engineer=engineer,
        licence=licence,
        released_on=released_on,
        note=note,
        torque_lbf_ft=torque_lbf_ft,
        entered_by=current_actor(),
    )
    job.permit_release = max(filter(None, [job.permit_release, released_on]))
    job.save()
    events.record("job.released", job, branch=job.branch, released_on=released_on.isoformat())
    return job


@service
def change_job(job_pk: int, *, if_match: int | None = None, **changes: Any) -> Job:
    """Set what the office may change: title, severity, due, weekdays, skills, crew size, permit."""
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    for name, value in changes.items():
        setattr(job, name, value)
    job.save()
    events.record("job.changed", job, branch=job.branch, fields=sorted(changes))
    return job


@service
def block_days(job_pk: int, *, first: date, last: date, if_match: int | None = None) -> Job:
    """Write down days on which the homeowner cannot have the crew."""
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    if last < first:
        raise InvalidValueError(
            "The last day is before the first.", remedy="Swap the days.", first=str(first)
        )
    Blackout.objects.create(job=job, first=first, last=last)
    job.save()
    events.record("job.changed", job, branch=job.branch, fields=["blackouts"])
    return job


@service
def close_job(job_pk: int, *, if_match: int | None = None) -> Job:
    """End the follow-up of an installed job; reminders that have not gone out are cancelled."""
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    states.move_job(job, Job.Status.CLOSED)
    job.save()
    count = followup.cancel_open(locks.lock_reminders_of(job))
    events.record("job.closed", job, branch=job.branch, reminders_cancelled=count)
    return job


@service
def change_layout(job_pk: int, *, layout_pk: int, if_match: int | None = None) -> Job:
    """Build another layout on one wall, after it was measured again or rules changed.

    The reserved material is brought in line by ``material.reserve_job`` and ``re-plan``.
    """
    job = locks.lock_job(job_pk)
    job.expect_version(if_match)
    layout = _layouts_of(job.site, [layout_pk])[0]
    JobWall.objects.update_or_create(job=job, wall=layout.survey.wall, defaults={"layout": layout})
    if layout.outcome == REVIEW:
        states.move_job(job, Job.Status.IN_REVIEW)
    walls = job.walls.select_related("layout").order_by("pk")
    _add_up(job, [wall.layout for wall in walls])
    job.save()
    events.record("job.layout_changed", job, branch=job.branch, wall=layout.survey.wall)
    return job
