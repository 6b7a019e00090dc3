"""Give events their position and make a delivery row for every endpoint that wants them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime
from fnmatch import fnmatchcase
from typing import Any

from django.db import connection
from django.db.models import Max, Q

from contractor.api.models import Event
from contractor.api.models.webhooks import WebhookDelivery, WebhookEndpoint
from contractor.api.transactions import service

BATCH = 500
_LOCK = 7_250_113  # one publisher at a time, on PostgreSQL; SQLite has one writer anyway


def publish(*, at: datetime) -> int:
    """Publish what has been committed; return how many events. Cheap when there is none."""
    done = 0
    while Event.objects.filter(position=None).exists():
        done += _publish_batch(at)
    return done


@service
def _publish_batch(at: datetime) -> int:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK])
    last = Event.objects.aggregate(last=Max("position"))["last"] or 0
    fresh = list(Event.objects.filter(position=None).order_by("pk")[:BATCH])
    for position, event in enumerate(fresh, start=last + 1):
        event.position = position
    Event.objects.bulk_update(fresh, ["position"])
    endpoints = list(WebhookEndpoint.objects.exclude(status=WebhookEndpoint.Status.DISABLED))
    deliveries = [
        delivery_of(event, endpoint, at)
        for event in fresh
        for endpoint in endpoints
        if wants(endpoint, event)
    ]
    WebhookDelivery.objects.bulk_create(deliveries)
    return len(fresh)


def wants(endpoint: WebhookEndpoint, event: Event) -> bool:
    """Return whether ``event`` belongs to the endpoint's company, branch and kinds."""
    if event.company_id != endpoint.company_id:
        return False
    if endpoint.branch_id is not None and event.branch_id != endpoint.branch_id:
        return False
    kinds: Sequence[str] = endpoint.kinds
    return not kinds or any(fnmatchcase(event.kind, kind) for kind in kinds)


def wanted_events(endpoint: WebhookEndpoint) -> Q:
    """Return the condition on company and branch that ``wants`` starts with."""
    place = Q(company_id=endpoint.company_id)
    return place & Q(branch_id=endpoint.branch_id) if endpoint.branch_id else place


def delivery_of(event: Event, endpoint: WebhookEndpoint, at: datetime) -> WebhookDelivery:
    """Return an unsaved delivery; the body is fixed now, for the signature covers its bytes."""
    return WebhookDelivery(
        endpoint=endpoint,
        event=event,
        message_id=f"msg_{event.pk}_{endpoint.pk}",
        kind=event.kind,
        subject=event.subject,
        position=event.position or 0,
        body=body_of(event.kind, event.at, document(event)),
        next_at=at,
    )


def document(event: Event) -> dict[str, Any]:
    """Return the ``data`` member: the event's own facts and where it stands."""
    return {
        **event.data,
        "position": event.position,
        "subject": event.subject,
        "version": event.subject_version,
        "branch": event.branch_id,
    }


def body_of(kind: str, at: datetime, data: dict[str, Any]) -> str:
    """Return the JSON text of a message: ``type``, ``timestamp``, ``data``."""
    stamp = at.astimezone(UTC).isoformat().replace("+00:00", "Z")
    return json.dumps({"type": kind, "timestamp": stamp, "data": data}, separators=(",", ":"))
