"""The install record: what it refuses, and what closing sets off."""

from __future__ import annotations

from datetime import date

import pytest

from contractor.errors import InvalidValueError, WrongStateError
from jobs.errors import IncompleteInstallError, MeasuredHeightError, OverTorqueError
from jobs.models import BraceRecord, InstallRecord, Job, Reminder
from jobs.services import installs
from tests.jobs.conftest import NOON, brace_values

pytestmark = pytest.mark.django_db(transaction=True)


def first_brace(install: InstallRecord) -> BraceRecord:
    return install.braces.order_by("pk")[0]


def test_record_has_one_row_per_planned_brace(install: InstallRecord) -> None:
    assert [b.mark for b in install.braces.all()] == ["B1", "B2"]
    assert first_brace(install).planned_height_ticks == 93 * 64
    assert Job.objects.get(pk=install.job_id).status == Job.Status.INSTALLING


def test_torque_above_the_limit_is_refused(install: InstallRecord) -> None:
    brace = first_brace(install)
    with pytest.raises(OverTorqueError, match="51 lbf ft is above the limit of 50 lbf ft"):
        installs.record_brace(brace.pk, at=NOON, torque_lbf_ft=51.0)
    brace.refresh_from_db()
    assert (brace.torque_lbf_ft, brace.recorded_at, brace.version) == (None, None, 1)


def test_height_that_the_beam_cannot_fit_is_refused(install: InstallRecord) -> None:
    brace = first_brace(install)
    with pytest.raises(MeasuredHeightError):
        installs.record_brace(brace.pk, at=NOON, measured_height_ticks=93 * 64 + 129)
    installs.record_brace(brace.pk, at=NOON, measured_height_ticks=93 * 64 + 128)


def test_skipped_step_needs_a_reason(install: InstallRecord) -> None:
    brace = first_brace(install)
    with pytest.raises(InvalidValueError):
        installs.record_brace(brace.pk, at=NOON, skipped={"plumb": " "})
    with pytest.raises(InvalidValueError):
        installs.record_brace(brace.pk, at=NOON, skipped={"dance": "no room"})
    brace = installs.record_brace(brace.pk, at=NOON, skipped={"plumb": "wall not straight"})
    assert "plumb" not in installs.missing_in(brace)


def test_closing_needs_every_brace(install: InstallRecord) -> None:
    brace = first_brace(install)
    installs.record_brace(brace.pk, at=NOON, **brace_values(brace.planned_height_ticks))
    with pytest.raises(IncompleteInstallError) as refusal:
        installs.close_install(
            install.pk,
            installed_on=date(2026, 3, 2),
            checklist={"clean_up": True},
            left_with_homeowner=[],
            signed_off_by="",
        )
    assert refusal.value.facts == {
        "missing": {"north wall B2": ["dry_fit", "tighten", "second_anchor", "plumb", "label"]},
        "steps": ["hand_over"],
        "signed_off": False,
    }
    assert Reminder.objects.count() == 0


def test_closing_dates_the_reminders(installed: Job) -> None:
    assert installed.status == Job.Status.INSTALLED
    dates = list(installed.reminders.values_list("due_on", flat=True))
    assert dates[0] == date(2026, 4, 2)  # one month after 2 March
    assert len(dates) == len(set(dates))
    first = installed.reminders.all()[0]
    assert first.not_before.isoformat() == "2026-04-02T14:00:00+00:00"  # 10:00 in New York


def test_closed_record_takes_no_more(installed: Job) -> None:
    brace = first_brace(installed.install)
    with pytest.raises(WrongStateError):
        installs.record_brace(brace.pk, at=NOON, note="late")
