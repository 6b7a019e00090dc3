"""Write events; ``contractor.api.webhooks`` publishes and delivers them."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from contractor.api.actor import current_actor
from contractor.api.inserting import insertion, send
from contractor.api.models import Branch, Company, Event
from contractor.api.models.base import Versioned
from contractor.queue import nudge


def record(
    kind: str, row: Versioned, *, branch: Branch | None, company: Company | None = None, **data: Any
) -> None:
    """Write what happened to ``row``; call it inside the transaction of the change.

    ``data`` is thin: keys, dates, states. Names, addresses, phone numbers stay out, for events
    leave the building.
    """
    send([insertion(new_event(kind, row, branch=branch, company=company, **data))])


def new_event(
    kind: str, row: Versioned, *, branch: Branch | None, company: Company | None = None, **data: Any
) -> Event:
    """Return the event for ``record``'s arguments, still to be written in this transaction."""
    nudge("contractor.api.tasks.publish_events")
    return Event(
        kind=kind,
        subject=f"{row._meta.model_name}:{row.pk}",
        subject_version=row.version,
        branch=branch,
        company_id=_company_of(branch, company),
        actor=current_actor(),
        data=data,
        at=timezone.now(),
    )


def _company_of(branch: Branch | None, company: Company | None) -> int | None:
    if branch is not None:
        return branch.company_id
    return company.pk if company is not None else None
