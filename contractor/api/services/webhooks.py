"""Set up webhook endpoints, rotate their secrets, test, resume and replay."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta

from contractor.api import sealed
from contractor.api.models import Branch, Company, Event, WebhookDelivery, WebhookEndpoint
from contractor.api.transactions import service
from contractor.api.webhooks import publishing
from contractor.api.webhooks.signing import new_secret
from contractor.errors import DomainError, WrongStateError
from contractor.queue import nudge

OVERLAP = timedelta(hours=24)
REPLAY_LIMIT = 10_000
_PENDING = WebhookDelivery.Status.PENDING


class ReplayTooLargeError(DomainError):
    code = "replay_too_large"
    title = "The replay covers too many events"
    status = 422


@service
def add_endpoint(
    *,
    company: Company,
    branch: Branch | None,
    url: str,
    description: str = "",
    kinds: Sequence[str] = (),
) -> tuple[WebhookEndpoint, str]:
    """Return the endpoint and its signing secret, which is shown this once."""
    secret = new_secret()
    endpoint = WebhookEndpoint.objects.create(
        company=company,
        branch=branch,
        url=url,
        description=description,
        kinds=sorted(set(kinds)),
        secret=sealed.seal(secret),
    )
    return endpoint, secret


@service
def rotate_secret(pk: int, if_match: int | None, *, at: datetime) -> tuple[WebhookEndpoint, str]:
    """Make a new secret; for 24 hours both sign, so that receivers can change over."""
    endpoint = _lock(pk, if_match)
    secret = new_secret()
    endpoint.old_secret, endpoint.old_secret_until = endpoint.secret, at + OVERLAP
    endpoint.secret = sealed.seal(secret)
    endpoint.save()
    return endpoint, secret


@service
def resume(pk: int, if_match: int | None, *, at: datetime) -> WebhookEndpoint:
    """Send again to an endpoint that was paused or disabled; what waits is due now."""
    endpoint = _lock(pk, if_match)
    if endpoint.status == WebhookEndpoint.Status.ACTIVE:
        raise WrongStateError("The endpoint is active already.")
    endpoint.status, endpoint.status_reason = WebhookEndpoint.Status.ACTIVE, ""
    endpoint.failing_since = endpoint.hold_until = None
    endpoint.save()
    endpoint.deliveries.filter(status=_PENDING).update(next_at=at, attempts=0)
    nudge("contractor.api.tasks.publish_events")
    return endpoint


@service
def pause(pk: int, if_match: int | None) -> WebhookEndpoint:
    """Hold deliveries back; events keep queueing up for the endpoint."""
    endpoint = _lock(pk, if_match)
    if endpoint.status != WebhookEndpoint.Status.ACTIVE:
        raise WrongStateError(f"The endpoint is {endpoint.status}.")
    endpoint.status, endpoint.status_reason = WebhookEndpoint.Status.PAUSED, "Paused by hand."
    endpoint.save()
    return endpoint


@service
def ping(pk: int, *, at: datetime) -> WebhookDelivery:
    """Queue a test message of kind "ping"."""
    endpoint = WebhookEndpoint.objects.get(pk=pk)
    subject = f"webhookendpoint:{endpoint.pk}"
    data = {"subject": subject, "version": endpoint.version, "branch": endpoint.branch_id}
    delivery = WebhookDelivery.objects.create(
        endpoint=endpoint,
        message_id=f"msg_ping_{uuid.uuid4().hex}",
        kind="ping",
        subject=f"ping:{uuid.uuid4().hex[:12]}",
        position=0,
        body=publishing.body_of("ping", at, data),
        next_at=at,
    )
    nudge("contractor.api.tasks.publish_events")
    return delivery


@service
def resend(pk: int, *, at: datetime) -> WebhookDelivery:
    """Send one message again, under the id it had."""
    delivery = WebhookDelivery.objects.select_for_update().get(pk=pk)
    _make_due([delivery], at)
    nudge("contractor.api.tasks.publish_events")
    return delivery


@service
def replay(pk: int, *, after: int, at: datetime) -> int:
    """Send every wanted event behind position ``after`` again; return how many.

    Message ids stay the same, so that a receiver that has seen one can drop it.
    """
    endpoint = WebhookEndpoint.objects.select_for_update().get(pk=pk)
    rows = Event.objects.filter(publishing.wanted_events(endpoint), position__gt=after)
    found = list(rows.order_by("position")[: REPLAY_LIMIT + 1])
    if len(found) > REPLAY_LIMIT:
        raise ReplayTooLargeError(
            f"More than {REPLAY_LIMIT} events lie behind this position.",
            remedy="Read them from /api/v1/events, or replay from a later position.",
        )
    wanted = {event.pk: event for event in found if publishing.wants(endpoint, event)}
    old = list(endpoint.deliveries.select_for_update().filter(event__in=list(wanted)))
    _make_due(old, at)
    known = {delivery.event_id for delivery in old}
    WebhookDelivery.objects.bulk_create(
        publishing.delivery_of(event, endpoint, at)
        for key, event in wanted.items()
        if key not in known
    )
    nudge("contractor.api.tasks.publish_events")
    return len(wanted)


def _make_due(deliveries: Sequence[WebhookDelivery], at: datetime) -> None:
    for delivery in deliveries:
        delivery.status, delivery.attempts, delivery.next_at = _PENDING, 0, at
    WebhookDelivery.objects.bulk_update(deliveries, ["status", "attempts", "next_at"])


def _lock(pk: int, if_match: int | None) -> WebhookEndpoint:
    endpoint = WebhookEndpoint.objects.select_for_update().get(pk=pk)
    endpoint.expect_version(if_match)
    return endpoint
