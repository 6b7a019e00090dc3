"""Reminder rows: one per due date, made when the install closes."""

from __future__ import annotations

import secrets
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from contractor.engine.followup.due_dates import DueDate, due_dates, extra_reading
from contractor.engine.followup.policy import FollowUpPolicy, read_policy
from contractor.engine.followup.tightening import StepPolicy, read_step_policy
from jobs import states
from jobs.models import Job, Reminder, Site
from jobs.services import hours

# Messages leave from this hour on at the homeowner's place (common practice).
FRIENDLY_HOUR = time(10)
ASK_AGAIN_DAYS = 14


def policy_of(job: Job) -> FollowUpPolicy:
    """Return the company's follow-up policy, or the defaults."""
    document = job.branch.company.settings.get("follow_up_policy")
    return read_policy(document) if document else FollowUpPolicy()


def step_policy_of(job: Job) -> StepPolicy:
    """Return how far the company lets a homeowner turn at a time, or the defaults."""
    document = job.branch.company.settings.get("tightening")
    return read_step_policy(document) if document else StepPolicy()


def first_instant(site: Site, due_on: date) -> datetime:
    """Return the first instant on or after ``due_on`` at which a message may reach the site."""
    local = datetime.combine(due_on, FRIENDLY_HOUR, tzinfo=ZoneInfo(site.time_zone))
    return hours.next_leave(site, local.astimezone(UTC))


def date_reminders(job: Job, installed_on: date) -> list[Reminder]:
    """Make the rows of every due date of a locked job. Dates that have a row keep it."""
    return [_remind(job, due) for due in due_dates(installed_on, policy_of(job))]


def date_extra_reading(job: Job, last_reading: date) -> Reminder:
    """Ask a locked job's homeowner for an extra reading because the wall moves."""
    return _remind(job, extra_reading(last_reading, policy_of(job)), kind="extra_reading")


def date_again(job: Job, today: date) -> Reminder:
    """Ask a locked job's homeowner again, who could not do it this time."""
    on = today + timedelta(days=ASK_AGAIN_DAYS)
    return _keep(job, on, "asked again: it could not be done", "re_tightening")


def _remind(job: Job, due: DueDate, kind: str = "re_tightening") -> Reminder:
    return _keep(job, due.on, "; ".join(reason.text for reason in due.reasons), kind)


def _keep(job: Job, on: date, reason: str, kind: str) -> Reminder:
    reminder, _ = Reminder.objects.get_or_create(
        job=job,
        kind=kind,
        due_on=on,
        defaults={
            "branch": job.branch,
            "reason": reason[:200],
            "not_before": first_instant(job.site, on),
            "message_id": secrets.token_hex(16),
        },
    )
    return reminder


def cancel_open(reminders: list[Reminder]) -> int:
    """Cancel what has not gone out of locked reminders; return how many."""
    open_ones = [
        one
        for one in reminders
        if one.status in {Reminder.Status.DUE, Reminder.Status.NO_CHANNEL, Reminder.Status.UNKNOWN}
    ]
    for reminder in open_ones:
        states.move_reminder(reminder, Reminder.Status.CANCELLED)
        reminder.save()
    return len(open_ones)
