"""Send due reminders, each exactly once.

A reminder is claimed in one transaction with the look at consent, hour and open replies; the
message leaves after that commit with ``message_id`` as the gateway's idempotency key; then it
is written down. Who dies in between leaves SENDING: ``settle_silent`` asks the gateway once the
lease has run out, and what nobody knows becomes UNKNOWN for a person to decide. Nothing is sent
again blindly: a second hand-over happens only where the gateway said that it has nothing, and
carries the same id, so that a sender who was merely slow does no harm either.

Any number of workers may run: the claim moves the status under the job's lock, so that one of
them gets the reminder; each starts at another place of the due list, so that they rarely meet.
"""

from __future__ import annotations

import logging
import random
import time
from collections.abc import Callable
from datetime import datetime, timedelta

from contractor.api import events
from contractor.api.transactions import service
from contractor.engine.errors import InputError
from jobs import locks, queries, states
from jobs.messages import gateways
from jobs.messages.compose import compose
from jobs.models import Consent, Customer, Job, Reminder, TextReply
from jobs.services import customers, hours, links

log = logging.getLogger(__name__)

LEASE = timedelta(minutes=2)
STINT = timedelta(seconds=25)
HOLD = timedelta(hours=1)
HOLD_TIGHTENING = timedelta(days=1)
BATCH = 200
MOST_ATTEMPTS = 5
R = Reminder.Status


def send_due(at: datetime) -> int:
    """Send what is due from ``at`` on, for one stint; return how many messages left.

    Time goes on while messages leave: each is claimed at ``at`` plus the time that has passed.
    """
    now = _clock_from(at)
    sent, seen = 0, set[int]()
    while batch := _due(now(), seen):
        for pk in batch:
            if now() - at > STINT:
                return sent
            seen.add(pk)
            sent += _send_one(pk, now)
    return sent


def _clock_from(at: datetime) -> Callable[[], datetime]:
    begun = time.monotonic()
    return lambda: at + timedelta(seconds=time.monotonic() - begun)


def _due(at: datetime, seen: set[int]) -> list[int]:
    rows = Reminder.objects.filter(status=R.DUE, not_before__lte=at).order_by("not_before", "pk")
    batch = [pk for pk in rows.values_list("pk", flat=True)[: BATCH + len(seen)] if pk not in seen]
    start = random.randrange(len(batch)) if batch else 0
    return batch[start:] + batch[:start]


def _send_one(pk: int, now: Callable[[], datetime]) -> bool:
    try:
        claimed = claim(pk, at=now())
    except InputError as error:
        log.error("reminder %s stays due, its settings make no sense: %s", pk, error)
        return False
    return claimed is not None and _send(*claimed, now)


def _send(reminder: Reminder, token: str, now: Callable[[], datetime]) -> bool:
    message = compose(reminder, token)
    gateway = gateways.gateway_for(reminder.channel)
    lease = reminder.claimed_until
    if lease is None or now() > lease - hours.SENDING_TAKES:
        return False  # asleep since the claim: the hour may be another, settle_silent decides
    try:
        gateway.send(message)
    except gateways.RefusedError as refusal:
        give_up_channel(reminder.pk, why=str(refusal), at=now())
        return False
    except gateways.BusyError as busy:
        put_back(reminder.pk, why=str(busy), at=now())
        return False
    write_down(reminder.pk, at=now(), outcome="accepted by the gateway")
    return True


@service
def claim(reminder_pk: int, *, at: datetime) -> tuple[Reminder, str] | None:
    """Take one due reminder for sending; None when it is not to be sent (now).

    Earlier due reminders of the same job are superseded: after downtime a homeowner gets one
    message, not ten.
    """
    found = Reminder.objects.filter(pk=reminder_pk, status=R.DUE).values_list("job_id", flat=True)
    job_pk = found.first()
    if job_pk is None:
        return None
    job = locks.lock_job(job_pk)
    due = [
        one for one in locks.lock_reminders_of(job) if one.status == R.DUE and one.not_before <= at
    ]
    if queries.is_on_hold(job):
        due = _without_tightening(due, at)
    if reminder_pk not in {one.pk for one in due}:
        return None
    if (later := _wait_until(job, at)) is not None:
        for one in due:
            one.not_before = later
            one.save()
        return None
    reminder = max(due, key=lambda one: (one.due_on, one.pk))
    for one in due:
        if one.pk != reminder.pk:
            _supersede(one, reminder)
    return _take(reminder, job, at)


def _without_tightening(due: list[Reminder], at: datetime) -> list[Reminder]:
    """Put off what asks to tighten a wall that the office has to see first; return the rest."""
    for one in due:
        if one.kind == "re_tightening":
            one.not_before = at + HOLD_TIGHTENING
            one.save()
    return [one for one in due if one.kind != "re_tightening"]


def _wait_until(job: Job, at: datetime) -> datetime | None:
    """Return when to look again: in quiet hours, or while a reply waits to be read."""
    if not hours.may_leave(job.site, at):
        return hours.next_leave(job.site, at)
    if is_held(job.site.customer):
        return at + HOLD
    return None


def is_held(customer: Customer) -> bool:
    """Whether somebody of the office has to read a reply before anything goes out."""
    return customer.replies.filter(
        meaning=TextReply.Meaning.ASK_OFFICE, handled_at__isnull=True
    ).exists()


def _supersede(reminder: Reminder, by: Reminder) -> None:
    states.move_reminder(reminder, R.SUPERSEDED)
    reminder.outcome = f"reminder {by.pk} went out instead"
    reminder.save()


def _take(reminder: Reminder, job: Job, at: datetime) -> tuple[Reminder, str] | None:
    reminder.job = job
    consent = _open_consent(job)
    if consent is None:
        states.move_reminder(reminder, R.NO_CHANNEL)
        reminder.save()
        events.record("reminder.no_channel", reminder, branch=reminder.branch)
        return None
    states.move_reminder(reminder, R.SENDING)
    reminder.channel, reminder.attempts = consent.channel, reminder.attempts + 1
    reminder.claimed_until = at + LEASE
    reminder.save()
    return reminder, links.new_token(job, at=at)


def _open_consent(job: Job) -> Consent | None:
    live = job.site.customer.consents.filter(revoked_at__isnull=True, is_stopped=False)
    return live.order_by("-granted_at", "-pk").first()


@service
def write_down(reminder_pk: int, *, at: datetime, outcome: str) -> None:
    """Mark a claimed reminder as sent. A late finisher whose row was put back may, too."""
    reminder = locks.lock_reminder(reminder_pk)
    if reminder.status == R.DUE:
        states.move_reminder(reminder, R.SENDING)
    if reminder.status not in {R.SENDING, R.UNKNOWN}:
        return
    states.move_reminder(reminder, R.SENT)
    reminder.sent_at, reminder.claimed_until, reminder.outcome = at, None, outcome
    reminder.save()
    events.record("reminder.sent", reminder, branch=reminder.branch, message_id=reminder.message_id)


@service
def put_back(reminder_pk: int, *, why: str, at: datetime, lease: datetime | None = None) -> None:
    """The gateway was busy and took nothing: due again later, at most MOST_ATTEMPTS times.

    With ``lease`` only the very claim that ran out then is put back, not a newer one.
    """
    reminder = locks.lock_reminder(reminder_pk)
    if reminder.status != R.SENDING or lease not in {None, reminder.claimed_until}:
        return
    pause = timedelta(minutes=5) * 2**reminder.attempts
    last = reminder.attempts >= MOST_ATTEMPTS
    states.move_reminder(reminder, R.UNKNOWN if last else R.DUE)
    reminder.not_before = at + pause
    reminder.claimed_until, reminder.outcome = None, why[:200]
    reminder.save()
    if last:
        events.record("reminder.unknown", reminder, branch=reminder.branch)


def give_up_channel(reminder_pk: int, *, why: str, at: datetime) -> None:
    """The gateway will never deliver there: rest the channel, try the next one."""
    reminder = Reminder.objects.select_related("job__site").get(pk=reminder_pk)
    customers.stop_channel(reminder.job.site.customer_id, channel=reminder.channel, why=why)
    put_back(reminder_pk, why=why, at=at)


def settle_silent(at: datetime) -> int:
    """Settle claims whose lease has run out: ask the gateway what it has; return how many."""
    silent = Reminder.objects.filter(status=R.SENDING, claimed_until__lt=at).order_by("pk")
    count = 0
    for reminder in list(silent[:BATCH]):
        was_sent = gateways.gateway_for(reminder.channel).was_sent(reminder.message_id)
        if was_sent is None:
            leave_unknown(reminder.pk, lease=reminder.claimed_until)
        elif was_sent:
            write_down(reminder.pk, at=at, outcome="the gateway had it")
        else:
            why = "the sender died before the gateway had it"
            put_back(reminder.pk, why=why, at=at, lease=reminder.claimed_until)
        count += 1
    return count


@service
def leave_unknown(reminder_pk: int, *, lease: datetime | None) -> None:
    """Nobody can say whether this claim's message left: a person has to look."""
    reminder = locks.lock_reminder(reminder_pk)
    if reminder.status != R.SENDING or lease != reminder.claimed_until:
        return
    states.move_reminder(reminder, R.UNKNOWN)
    reminder.claimed_until = None
    reminder.outcome = "the sender died; a person has to look"
    reminder.save()
    events.record("reminder.unknown", reminder, branch=reminder.branch)


@service
def resolve_unknown(reminder_pk: int, *, was_sent: bool, if_match: int | None = None) -> Reminder:
    """A person looked: the message arrived, or it is due again."""
    reminder = locks.lock_reminder(reminder_pk)
    reminder.expect_version(if_match)
    states.move_reminder(reminder, R.SENT if was_sent else R.DUE)
    reminder.outcome, reminder.attempts = "a person looked", 0
    reminder.save()
    events.record("reminder.resolved", reminder, branch=reminder.branch, was_sent=was_sent)
    return reminder
