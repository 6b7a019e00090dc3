"""What homeowners tell us about a re-tightening, and what it sets off."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from contractor.api import events
from contractor.api.transactions import service
from contractor.engine.calendars.zones import zone
from jobs import locks, states
from jobs.models import CareLog, Job, Reminder
from jobs.services import followup, readings

# A homeowner who tightens a few days before the date has done it.
EARLY = timedelta(days=7)
R = Reminder.Status


@service
def log_care(job_pk: int, *, outcome: str, note: str, at: datetime) -> CareLog:
    """Keep how it went. ``done`` settles the latest reminder, ``could_not`` asks again in two
    weeks, ``something_wrong`` asks for a visit with priority."""
    job = locks.lock_job(job_pk)
    today = local_day(job, at)
    log = CareLog(branch=job.branch, job=job, outcome=outcome, note=note, logged_at=at)
    if outcome == CareLog.Outcome.DONE:
        log.reminder = _settle(locks.lock_reminders_of(job), today)
    elif outcome == CareLog.Outcome.COULD_NOT:
        followup.date_again(job, today)
    else:
        readings.request_visit(job, "something_wrong", note, today, severity=4)
    log.save()
    events.record("care.logged", log, branch=job.branch, job=job.pk, outcome=outcome)
    return log


def local_day(job: Job, at: datetime) -> date:
    """Return the date at the site."""
    return at.astimezone(zone(job.site.time_zone)).date()


def _settle(reminders: list[Reminder], today: date) -> Reminder | None:
    """Mark the latest reminder that went out or is due as done; earlier due ones are moot."""
    open_ones = [
        one
        for one in reminders
        if one.status in {R.SENT, R.DUE, R.UNKNOWN, R.NO_CHANNEL} and one.due_on <= today + EARLY
    ]
    if not open_ones:
        return None
    latest = max(open_ones, key=lambda one: (one.due_on, one.pk))
    for one in open_ones:
        if one is latest:
            states.move_reminder(one, R.DONE)
        elif one.status == R.DUE:
            states.move_reminder(one, R.SUPERSEDED)
            one.outcome = f"done with reminder {latest.pk}"
        one.save()
    return latest


def next_date(job: Job, today: date) -> date | None:
    """Return the next date on which the homeowner hears from us, None after the last one."""
    due = job.reminders.filter(status=R.DUE, due_on__gte=today).order_by("due_on")
    return due.values_list("due_on", flat=True).first()
