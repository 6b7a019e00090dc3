"""Statuses of jobs' rows and the moves between them; a test walks every pair."""

from __future__ import annotations

from contractor.api import states
from jobs.models import InstallRecord, Job, Reminder, VisitRequest

J, R, V = Job.Status, Reminder.Status, VisitRequest.Status

JOB_MOVES: dict[str, frozenset[str]] = {
    J.IN_REVIEW: frozenset({J.RELEASED, J.CANCELLED}),
    J.RELEASED: frozenset({J.RESERVED, J.IN_REVIEW, J.CANCELLED}),
    J.RESERVED: frozenset({J.PLANNED, J.RELEASED, J.IN_REVIEW, J.CANCELLED}),
    J.PLANNED: frozenset({J.INSTALLING, J.RESERVED, J.RELEASED, J.IN_REVIEW, J.CANCELLED}),
    J.INSTALLING: frozenset({J.INSTALLED}),
    J.INSTALLED: frozenset({J.CLOSED}),
    J.CLOSED: frozenset({J.INSTALLED}),
    J.CANCELLED: frozenset(),
}
INSTALL_MOVES: dict[str, frozenset[str]] = {
    InstallRecord.Status.OPEN: frozenset({InstallRecord.Status.CLOSED}),
    InstallRecord.Status.CLOSED: frozenset(),
}
REMINDER_MOVES: dict[str, frozenset[str]] = {
    R.DUE: frozenset({R.SENDING, R.NO_CHANNEL, R.SUPERSEDED, R.DONE, R.CANCELLED}),
    R.SENDING: frozenset({R.SENT, R.UNKNOWN, R.DUE, R.NO_CHANNEL}),
    R.UNKNOWN: frozenset({R.SENT, R.DUE, R.DONE, R.CANCELLED}),
    R.SENT: frozenset({R.DONE, R.CANCELLED}),
    R.NO_CHANNEL: frozenset({R.DUE, R.DONE, R.CANCELLED}),
    R.SUPERSEDED: frozenset(),
    R.DONE: frozenset(),
    R.CANCELLED: frozenset(),
}
VISIT_REQUEST_MOVES: dict[str, frozenset[str]] = {
    V.OPEN: frozenset({V.PLANNED, V.DONE, V.CANCELLED}),
    V.PLANNED: frozenset({V.OPEN, V.DONE, V.CANCELLED}),
    V.DONE: frozenset(),
    V.CANCELLED: frozenset(),
}


def move_job(job: Job, status: str) -> None:
    states.move(job, status, JOB_MOVES)


def move_install(install: InstallRecord, status: str) -> None:
    states.move(install, status, INSTALL_MOVES)


def move_reminder(reminder: Reminder, status: str) -> None:
    states.move(reminder, status, REMINDER_MOVES)


def move_visit_request(request: VisitRequest, status: str) -> None:
    states.move(request, status, VISIT_REQUEST_MOVES)
