"""Homeowners: consent to a channel is given and taken back, one row each time."""

from __future__ import annotations

from datetime import datetime

from contractor.api import events
from contractor.api.transactions import service
from contractor.errors import InvalidValueError
from jobs import locks
from jobs.models import Consent, Customer


@service
def grant_consent(customer_pk: int, *, channel: str, source: str, at: datetime) -> Consent:
    """Write down that the homeowner agreed to ``channel``; agreeing twice changes nothing."""
    customer = locks.lock_customer(customer_pk)
    _require_address(customer, channel)
    live = customer.consents.filter(channel=channel, revoked_at__isnull=True).first()
    if live is not None:
        return live
    consent = Consent.objects.create(
        customer=customer, channel=channel, source=source, granted_at=at
    )
    events.record("consent.granted", customer, branch=customer.branch, channel=channel)
    return consent


@service
def opt_out(customer_pk: int, *, channel: str | None, by: str, at: datetime) -> int:
    """Take consent back at once, for one channel or (None) all; return how many were live.

    No message leaves after this commit: a sender looks at the consent in the transaction in
    which it claims a reminder.
    """
    customer = locks.lock_customer(customer_pk)
    live = customer.consents.filter(revoked_at__isnull=True)
    if channel is not None:
        live = live.filter(channel=channel)
    count = live.update(revoked_at=at, revoked_by=by)
    if count:
        events.record("consent.revoked", customer, branch=customer.branch, channel=channel or "all")
    return count


@service
def stop_channel(customer_pk: int, *, channel: str, why: str) -> int:
    """Rest a channel whose address bounced or whose number failed, and tell the office."""
    customer = locks.lock_customer(customer_pk)
    live = customer.consents.filter(channel=channel, revoked_at__isnull=True, is_stopped=False)
    count = live.update(is_stopped=True, stopped_why=why[:200])
    if count:
        events.record(
            "channel.stopped", customer, branch=customer.branch, channel=channel, why=why[:200]
        )
    return count


def _require_address(customer: Customer, channel: str) -> None:
    address = customer.email if channel == Consent.Channel.EMAIL else customer.phone
    if not address:
        noun = "e-mail address" if channel == Consent.Channel.EMAIL else "phone number"
        raise InvalidValueError(
            f"This customer has no {noun}.", remedy=f"Enter the {noun} first.", channel=channel
        )
