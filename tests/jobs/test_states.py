"""Every pair of statuses, for every row of this app that has some."""

from __future__ import annotations

from jobs import states
from jobs.models import InstallRecord, Job, Reminder, VisitRequest
from tests.states import walk_every_pair


def test_every_pair_of_job_statuses() -> None:
    allowed = walk_every_pair(
        Job.Status.values, states.JOB_MOVES, states.move_job, lambda s: Job(status=s)
    )
    assert allowed == 17


def test_every_pair_of_install_statuses() -> None:
    allowed = walk_every_pair(
        InstallRecord.Status.values,
        states.INSTALL_MOVES,
        states.move_install,
        lambda s: InstallRecord(status=s),
    )
    assert allowed == 1


def test_every_pair_of_reminder_statuses() -> None:
    allowed = walk_every_pair(
        Reminder.Status.values,
        states.REMINDER_MOVES,
        states.move_reminder,
        lambda s: Reminder(status=s),
    )
    assert allowed == 18


def test_every_pair_of_visit_request_statuses() -> None:
    allowed = walk_every_pair(
        VisitRequest.Status.values,
        states.VISIT_REQUEST_MOVES,
        states.move_visit_request,
        lambda s: VisitRequest(status=s),
    )
    assert allowed == 6
