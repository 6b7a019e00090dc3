"""Homeowners: consent to a channel is given and taken back, one row each time."""

from __future__ import annotations

from datetime import datetime, timedelta

from contractor.api import events
from contractor.api.transactions import service
from contractor.errors import InvalidValueError
from jobs import locks, states
from jobs.models import Consent, Customer, Reminder

STRANDED_FOR = timedelta(days=30)


@service
def grant_consent(customer_pk: int, *, channel: str, source: str, at: datetime) -> Consent:
    """Write down that the homeowner agreed to ``channel``; agreeing twice changes nothing.

    A channel that rests after a bounce works again, and reminders of the last month that found
    no channel are due again.
    """
    return grant(locks.lock_customer(customer_pk), channel=channel, source=source, at=at)


@service
def choose_channel(customer_pk: int, *, channel: str, address: str, at: datetime) -> Consent:
    """The homeowner wants reminders by ``channel`` and no other.

    ``address`` fills a missing e-mail address or number; one that the office has entered is
    changed by the office only, for whoever holds a link could turn the reminders elsewhere.
    """
    customer = locks.lock_customer(customer_pk)
    column = "email" if channel == Consent.Channel.EMAIL else "phone"
    if address and not getattr(customer, column):
        setattr(customer, column, address)
        customer.save()
    others = [other for other in Consent.Channel.values if other != channel]
    for other in others:
        take_back(customer, channel=other, by="homeowner's page", at=at)
    return grant(customer, channel=channel, source="homeowner's page", at=at)


def grant(customer: Customer, *, channel: str, source: str, at: datetime) -> Consent:
    """Grant consent on a locked customer."""
    _require_address(customer, channel)
    live = customer.consents.filter(channel=channel, revoked_at__isnull=True).first()
    if live is not None and not live.is_stopped:
        return live
    if live is not None:
        live.is_stopped, live.stopped_why = False, ""
        live.save()
    consent = live or Consent.objects.create(
        customer=customer, channel=channel, source=source, granted_at=at
    )
    _try_again(customer, at)
    events.record("consent.granted", customer, branch=customer.branch, channel=channel)
    return consent


def _try_again(customer: Customer, at: datetime) -> None:
    stranded = Reminder.objects.filter(
        job__site__customer=customer,
        status=Reminder.Status.NO_CHANNEL,
        due_on__gte=(at - STRANDED_FOR).date(),
    )
    for reminder in stranded.select_for_update(of=("self",)).order_by("pk"):
        states.move_reminder(reminder, Reminder.Status.DUE)
        reminder.not_before = max(reminder.not_before, at)
        reminder.save()


@service
def opt_out(customer_pk: int, *, channel: str | None, by: str, at: datetime) -> int:
    """Take consent back at once, for one channel or (None) all; return how many were live.

    A sender looks at the consent in the transaction in which it claims a reminder: after this
    commit nothing more is claimed. What was claimed before is on its way already.
    """
    return take_back(locks.lock_customer(customer_pk), channel=channel, by=by, at=at)


def take_back(customer: Customer, *, channel: str | None, by: str, at: datetime) -> int:
    """Revoke live consent of a locked customer; return how many."""
    live = customer.consents.filter(revoked_at__isnull=True)
    if channel is not None:
        live = live.filter(channel=channel)
    rows = list(live.order_by("pk"))
    for row in rows:
        row.revoked_at, row.revoked_by = at, by
        row.save()
    if rows:
        events.record("consent.revoked", customer, branch=customer.branch, channel=channel or "all")
    return len(rows)


@service
def stop_channel(customer_pk: int, *, channel: str, why: str) -> int:
    """Rest a channel whose address bounced or whose number failed, and tell the office."""
    customer = locks.lock_customer(customer_pk)
    live = customer.consents.filter(channel=channel, revoked_at__isnull=True, is_stopped=False)
    rows = list(live.order_by("pk"))
    for row in rows:
        row.is_stopped, row.stopped_why = True, why[:200]
        row.save()
    if rows:
        events.record(
            "channel.stopped", customer, branch=customer.branch, channel=channel, why=why[:200]
        )
    return len(rows)


def _require_address(customer: Customer, channel: str) -> None:
    address = customer.email if channel == Consent.Channel.EMAIL else customer.phone
    if not address:
        noun = "e-mail address" if channel == Consent.Channel.EMAIL else "phone number"
        raise InvalidValueError(
            f"This customer has no {noun}.", remedy=f"Enter the {noun} first.", channel=channel
        )
