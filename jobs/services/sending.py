"""Send due reminders, each exactly once.

A reminder is claimed by a counted update together with the look at consent and hour; the
message leaves after that commit with ``message_id`` as the gateway's idempotency key; then it
is written down. Who dies in between leaves SENDING: ``settle_silent`` asks the gateway, and
what nobody knows becomes UNKNOWN for a person to decide. Nothing is sent again blindly.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from contractor.api import events
from contractor.api.transactions import service
from contractor.engine.followup.quiet_hours import is_allowed, next_allowed
from contractor.engine.followup.state_windows import window_for
from jobs import locks, states
from jobs.messages import gateways
from jobs.messages.compose import compose
from jobs.models import Consent, Reminder
from jobs.services import customers, links

LEASE = timedelta(minutes=2)
BATCH = 200
MOST_ATTEMPTS = 5
R = Reminder.Status


def send_due(at: datetime) -> int:
    """Send what is due at ``at``; return how many messages left."""
    due = Reminder.objects.filter(status=R.DUE, not_before__lte=at).order_by("not_before", "pk")
    sent = 0
    for pk in list(due.values_list("pk", flat=True)[:BATCH]):
        claimed = claim(pk, at=at)
        if claimed is not None:
            sent += _send(*claimed)
    return sent


def _send(reminder: Reminder, token: str) -> bool:
    message = compose(reminder, token)
    gateway = gateways.gateway_for(reminder.channel)
    try:
        gateway.send(message)
    except gateways.RefusedError as refusal:
        give_up_channel(reminder.pk, why=str(refusal))
        return False
    except gateways.BusyError as busy:
        put_back(reminder.pk, why=str(busy))
        return False
    write_down(reminder.pk, at=reminder.updated_at, outcome="accepted by the gateway")
    return True


@service
def claim(reminder_pk: int, *, at: datetime) -> tuple[Reminder, str] | None:
    """Take one due reminder for sending; None when it is not to be sent (now).

    Earlier due reminders of the same job are superseded: after downtime a homeowner gets one
    message, not ten.
    """
    found = Reminder.objects.filter(pk=reminder_pk).values_list("job_id", flat=True).first()
    job = locks.lock_job(found or 0)
    due = [
        one for one in locks.lock_reminders_of(job) if one.status == R.DUE and one.not_before <= at
    ]
    if reminder_pk not in {one.pk for one in due}:
        return None
    reminder = max(due, key=lambda one: (one.due_on, one.pk))
    if not is_allowed(at, job.site.time_zone, window_for(job.site.state or None)):
        for one in due:
            one.not_before = next_allowed(
                at, job.site.time_zone, window_for(job.site.state or None)
            )
            one.save()
        return None
    for one in due:
        if one.pk != reminder.pk:
            states.move_reminder(one, R.SUPERSEDED)
            one.outcome = f"reminder {reminder.pk} went out instead"
            one.save()
    return _take(reminder, at)


def _take(reminder: Reminder, at: datetime) -> tuple[Reminder, str] | None:
    consent = _open_consent(reminder)
    if consent is None:
        states.move_reminder(reminder, R.NO_CHANNEL)
        reminder.save()
        events.record("reminder.no_channel", reminder, branch=reminder.branch)
        return None
    states.move_reminder(reminder, R.SENDING)
    reminder.channel, reminder.attempts = consent.channel, reminder.attempts + 1
    reminder.claimed_until = at + LEASE
    reminder.save()
    return reminder, links.new_token(reminder.job, at=at)


def _open_consent(reminder: Reminder) -> Consent | None:
    customer = reminder.job.site.customer
    live = customer.consents.filter(revoked_at__isnull=True, is_stopped=False)
    return live.order_by("-granted_at", "-pk").first()


@service
def write_down(reminder_pk: int, *, at: datetime, outcome: str) -> None:
    """Mark a claimed reminder as sent. A late finisher whose row became UNKNOWN may, too."""
    reminder = locks.lock_reminder(reminder_pk)
    if reminder.status == R.SENT:
        return
    states.move_reminder(reminder, R.SENT)
    reminder.sent_at, reminder.claimed_until, reminder.outcome = at, None, outcome
    reminder.save()
    events.record("reminder.sent", reminder, branch=reminder.branch, message_id=reminder.message_id)


@service
def put_back(reminder_pk: int, *, why: str) -> None:
    """The gateway was busy and took nothing: due again later, at most MOST_ATTEMPTS times."""
    reminder = locks.lock_reminder(reminder_pk)
    if reminder.status != R.SENDING:
        return
    pause = timedelta(minutes=5) * 2**reminder.attempts
    last = reminder.attempts >= MOST_ATTEMPTS
    states.move_reminder(reminder, R.UNKNOWN if last else R.DUE)
    reminder.not_before += pause
    reminder.claimed_until, reminder.outcome = None, why[:200]
    reminder.save()


def give_up_channel(reminder_pk: int, *, why: str) -> None:
    """The gateway will never deliver there: rest the channel, try the next one."""
    reminder = Reminder.objects.select_related("job__site").get(pk=reminder_pk)
    customers.stop_channel(reminder.job.site.customer_id, channel=reminder.channel, why=why)
    put_back(reminder_pk, why=why)


def settle_silent(at: datetime) -> int:
    """Settle claims whose lease has run out: ask the gateway what it has; return how many."""
    silent = Reminder.objects.filter(status=R.SENDING, claimed_until__lt=at).order_by("pk")
    count = 0
    for reminder in list(silent[:BATCH]):
        was_sent = gateways.gateway_for(reminder.channel).was_sent(reminder.message_id)
        if was_sent is None:
            leave_unknown(reminder.pk)
        elif was_sent:
            write_down(reminder.pk, at=at, outcome="the gateway had it")
        else:
            put_back(reminder.pk, why="the sender died before the gateway had it")
        count += 1
    return count


@service
def leave_unknown(reminder_pk: int) -> None:
    reminder = locks.lock_reminder(reminder_pk)
    if reminder.status != R.SENDING:
        return
    states.move_reminder(reminder, R.UNKNOWN)
    reminder.outcome = "the sender died; a person has to look"
    reminder.save()
    events.record("reminder.unknown", reminder, branch=reminder.branch)


@service
def resolve_unknown(reminder_pk: int, *, was_sent: bool, if_match: int | None = None) -> Reminder:
    """A person looked: the message arrived, or it is due again."""
    reminder = locks.lock_reminder(reminder_pk)
    reminder.expect_version(if_match)
    states.move_reminder(reminder, R.SENT if was_sent else R.DUE)
    reminder.outcome = "a person looked"
    reminder.save()
    events.record("reminder.resolved", reminder, branch=reminder.branch, was_sent=was_sent)
    return reminder
