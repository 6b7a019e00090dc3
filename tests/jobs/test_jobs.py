"""Open, release, re-measure, block days, close."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from contractor.api.models import Event
from contractor.errors import InvalidValueError, StaleVersionError, WrongStateError
from jobs.errors import NoLayoutError, OutdatedLayoutError
from jobs.models import BraceLayout, Job, Site
from jobs.services import jobs

pytestmark = pytest.mark.django_db(transaction=True)
DUE = date(2026, 4, 1)
REVIEW, NO_LAYOUT = BraceLayout.Outcome.REVIEW, BraceLayout.Outcome.NO_LAYOUT


def open_job(site: Site, *layouts: BraceLayout) -> Job:
    return jobs.open_job(
        site_pk=site.pk,
        title="Brace it",
        layout_pks=[layout.pk for layout in layouts],
        severity=3,
        due=DUE,
    )


def test_job_adds_up_its_walls(site: Site, make_layout: Callable[..., BraceLayout]) -> None:
    job = open_job(site, make_layout("north"), make_layout("east", labour_minutes=300))
    assert (job.status, job.brace_count, job.labour_minutes) == ("released", 4, 900)
    assert Event.objects.filter(kind="job.opened", subject=f"job:{job.pk}").count() == 1


def test_layout_for_an_engineer_opens_in_review(
    site: Site, make_layout: Callable[..., BraceLayout]
) -> None:
    job = open_job(site, make_layout("north"), make_layout("east", REVIEW))
    assert job.status == Job.Status.IN_REVIEW
    released = jobs.release_job(
        job.pk, engineer="P. Novak", licence="PE 0000", released_on=date(2026, 3, 1)
    )
    assert (released.status, released.permit_release) == ("released", date(2026, 3, 1))
    assert released.releases.get().entered_by == "system"


@pytest.mark.parametrize(
    ("outcome", "refusal"), [(NO_LAYOUT, NoLayoutError), (None, OutdatedLayoutError)]
)
def test_layout_that_cannot_be_built_is_refused(
    site: Site,
    make_layout: Callable[..., BraceLayout],
    outcome: str | None,
    refusal: type[Exception],
) -> None:
    layout = make_layout("north", outcome or BraceLayout.Outcome.WITHIN)
    if outcome is None:
        make_layout("north")
    with pytest.raises(refusal):
        open_job(site, layout)
    assert Job.objects.count() == 0
    assert Event.objects.filter(kind="job.opened").count() == 0


def test_two_layouts_of_one_wall_are_refused(
    site: Site, make_layout: Callable[..., BraceLayout]
) -> None:
    layout = make_layout("north")
    twin = BraceLayout.objects.get(pk=layout.pk)
    twin.pk, twin.input_hash = None, "f" * 64
    twin._state.adding = True
    twin.save()
    with pytest.raises(InvalidValueError, match="same wall"):
        open_job(site, layout, twin)


def test_stale_version_changes_nothing(job: Job) -> None:
    jobs.change_job(job.pk, if_match=job.version, severity=4)
    with pytest.raises(StaleVersionError):
        jobs.change_job(job.pk, if_match=job.version, severity=1)
    assert Job.objects.get(pk=job.pk).severity == 4


def test_measured_again_goes_back_to_the_engineer(
    job: Job, make_layout: Callable[..., BraceLayout]
) -> None:
    again = make_layout("north wall", REVIEW, brace_count=3)
    changed = jobs.change_layout(job.pk, layout_pk=again.pk)
    assert (changed.status, changed.brace_count) == (Job.Status.IN_REVIEW, 3)
    assert changed.walls.get().layout == again


def test_blackout_must_end_after_it_starts(job: Job) -> None:
    with pytest.raises(InvalidValueError):
        jobs.block_days(job.pk, first=date(2026, 3, 9), last=date(2026, 3, 8))
    assert job.blackouts.count() == 0
    jobs.block_days(job.pk, first=date(2026, 3, 8), last=date(2026, 3, 9))
    assert job.blackouts.count() == 1


def test_only_an_installed_job_closes(job: Job) -> None:
    with pytest.raises(WrongStateError):
        jobs.close_job(job.pk)


def test_closing_cancels_open_reminders(installed: Job) -> None:
    assert installed.reminders.filter(status="due").count() > 3
    jobs.close_job(installed.pk)
    assert set(installed.reminders.values_list("status", flat=True)) == {"cancelled"}
