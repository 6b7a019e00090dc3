"""Write events; ``contractor.api.webhooks`` delivers them."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from contractor.api.actor import current_actor
from contractor.api.models import Branch, Event
from contractor.api.models.base import Versioned


def record(kind: str, row: Versioned, *, branch: Branch | None, **data: Any) -> Event:
    """Write what happened to ``row``; call it inside the transaction of the change."""
    return Event.objects.create(
        kind=kind,
        subject=f"{row._meta.model_name}:{row.pk}",
        subject_version=row.version,
        branch=branch,
        actor=current_actor(),
        data=data,
        at=timezone.now(),
    )
