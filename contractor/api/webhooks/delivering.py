"""Send what is due, in order per subject, and write down what came of it.

A delivery is claimed by a counted update that moves its due time a lease ahead; nothing is
locked while the request is under way. A sender that dies loses its lease and the delivery is
sent again under the same id; a sender that wakes up late finds the attempt counted on and
writes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from contractor.api import events, sealed
from contractor.api.models.webhooks import WebhookAttempt, WebhookDelivery, WebhookEndpoint
from contractor.api.transactions import service
from contractor.api.webhooks import retrying, sender
from contractor.api.webhooks.sender import Answer
from contractor.api.webhooks.signing import signed_headers

LEASE = timedelta(seconds=60)
PER_RUN = 200
Send = Callable[[str, bytes, dict[str, str]], Answer]
_PENDING = WebhookDelivery.Status.PENDING
_ACTIVE = WebhookEndpoint.Status.ACTIVE


def endpoints_with_due(at: datetime) -> list[int]:
    """Return keys of active endpoints for which something is due, longest waiting first."""
    due = due_deliveries(at).order_by("next_at").values_list("endpoint_id", flat=True)
    return list(dict.fromkeys(due))


def due_deliveries(at: datetime) -> QuerySet[WebhookDelivery]:
    """Return what may be sent now: nothing overtakes an earlier event of its subject."""
    earlier = WebhookDelivery.objects.filter(
        endpoint=OuterRef("endpoint"),
        subject=OuterRef("subject"),
        position__lt=OuterRef("position"),
        status=_PENDING,
    )
    return WebhookDelivery.objects.filter(
        ~Exists(earlier),
        Q(endpoint__hold_until=None) | Q(endpoint__hold_until__lte=at),
        status=_PENDING,
        next_at__lte=at,
        endpoint__status=_ACTIVE,
    )


def deliver(
    endpoint_pk: int, *, now: Callable[[], datetime] = timezone.now, send: Send = sender.post
) -> int:
    """Send what is due to one endpoint until something fails; return how many succeeded."""
    done = 0
    for _ in range(PER_RUN):
        claimed = _claim(endpoint_pk, now())
        if claimed is None:
            break
        at = now()
        answer = _send(claimed, at, send)
        _settle(claimed.pk, claimed.attempts, answer, at, now())
        if not answer.is_success:
            break
        done += 1
    return done


def _send(delivery: WebhookDelivery, at: datetime, send: Send) -> Answer:
    try:
        headers = _headers(delivery, at)
    except sealed.BrokenSealError:
        return Answer("secret_unreadable")  # SECRET_KEY was changed without a fallback
    return send(delivery.endpoint.url, delivery.body.encode(), headers)


def _claim(endpoint_pk: int, at: datetime) -> WebhookDelivery | None:
    """Return the next due delivery with its attempt counted, or None."""
    due = due_deliveries(at).filter(endpoint_id=endpoint_pk).order_by("position")
    for found in due.select_related("endpoint")[:5]:
        mine = WebhookDelivery.objects.filter(
            pk=found.pk, status=_PENDING, attempts=found.attempts, next_at=found.next_at
        ).update(attempts=F("attempts") + 1, next_at=at + LEASE)
        if mine:
            found.attempts += 1
            return found
    return None


def _headers(delivery: WebhookDelivery, at: datetime) -> dict[str, str]:
    endpoint = delivery.endpoint
    secrets = [sealed.unseal(endpoint.secret)]
    if endpoint.old_secret and endpoint.old_secret_until and at < endpoint.old_secret_until:
        secrets.append(sealed.unseal(endpoint.old_secret))
    stamp = int(at.timestamp())
    return {
        "Content-Type": "application/json",
        "User-Agent": "Tautline-Webhooks/1",
        **signed_headers(delivery.message_id, stamp, delivery.body.encode(), secrets),
    }


@service
def _settle(pk: int, attempt: int, answer: Answer, sent_at: datetime, at: datetime) -> None:
    endpoint_pk = WebhookDelivery.objects.values_list("endpoint_id", flat=True).get(pk=pk)
    endpoint = WebhookEndpoint.objects.select_for_update().get(pk=endpoint_pk)
    delivery = WebhookDelivery.objects.select_for_update().get(pk=pk)
    if delivery.attempts != attempt or delivery.status != _PENDING:
        return  # the lease ran out and somebody else has sent it meanwhile
    WebhookAttempt.objects.create(
        delivery=delivery,
        number=attempt,
        at=sent_at,
        duration_ms=answer.duration_ms,
        http_status=answer.http_status,
        outcome=answer.outcome,
    )
    delivery.last_outcome = answer.outcome
    if answer.is_success:
        _note_success(delivery, endpoint, at)
    else:
        _note_failure(delivery, endpoint, answer, at)
    delivery.save()


def _note_success(delivery: WebhookDelivery, endpoint: WebhookEndpoint, at: datetime) -> None:
    delivery.status, delivery.delivered_at = WebhookDelivery.Status.DELIVERED, at
    if endpoint.failing_since or endpoint.hold_until:
        endpoint.failing_since = endpoint.hold_until = None
        endpoint.save(update_fields=["failing_since", "hold_until"])


def _note_failure(
    delivery: WebhookDelivery, endpoint: WebhookEndpoint, answer: Answer, at: datetime
) -> None:
    endpoint.failing_since = endpoint.failing_since or at
    held = retrying.hold(answer)
    endpoint.hold_until = at + held if held else None
    endpoint.save(update_fields=["failing_since", "hold_until"])
    wait = retrying.next_wait(delivery.attempts, delivery.message_id)
    if wait is None:
        delivery.status = WebhookDelivery.Status.FAILED
    else:
        delivery.next_at = at + max(wait, held or wait)
    if answer.http_status == 410:
        _stop(endpoint, WebhookEndpoint.Status.DISABLED, "The receiver answered 410 Gone.")
    elif at - endpoint.failing_since >= retrying.PAUSE_AFTER:
        _stop(endpoint, WebhookEndpoint.Status.PAUSED, "Every attempt failed for three days.")


def _stop(endpoint: WebhookEndpoint, status: str, reason: str) -> None:
    """Stop sending and raise the alarm, as an event that other endpoints and people see."""
    endpoint.status, endpoint.status_reason = status, reason
    endpoint.save()
    events.record(
        f"webhook_endpoint.{status}",
        endpoint,
        branch=endpoint.branch,
        company=endpoint.company,
        reason=reason,
    )
