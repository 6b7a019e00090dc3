"""Write events; ``contractor.api.webhooks`` publishes and delivers them."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from contractor.api.actor import current_actor
from contractor.api.inserting import insert
from contractor.api.models import Branch, Company, Event
from contractor.api.models.base import Versioned
from contractor.queue import nudge


def record(
    kind: str, row: Versioned, *, branch: Branch | None, company: Company | None = None, **data: Any
) -> Event:
    """Write what happened to ``row``; call it inside the transaction of the change.

    ``data`` is thin: keys, dates, states. Names, addresses, phone numbers stay out, for events
    leave the building.
    """
    event = insert(
        Event(
            kind=kind,
            subject=f"{row._meta.model_name}:{row.pk}",
            subject_version=row.version,
            branch=branch,
            company_id=_company_of(branch, company),
            actor=current_actor(),
            data=data,
            at=timezone.now(),
        )
    )
    nudge("contractor.api.tasks.publish_events")
    return event


def _company_of(branch: Branch | None, company: Company | None) -> int | None:
    if branch is not None:
        return branch.company_id
    return company.pk if company is not None else None
