"""Forms of the pages take effect once, however often a tired phone sends them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from contractor.api.transactions import joined_transaction
from contractor.errors import InvalidValueError
from jobs.models import FormPost

KEPT = timedelta(days=30)
MOST_SIGNS = 64


def once(principal: str, key: str, act: Callable[[], object], *, at: datetime) -> bool:
    """Run the services in ``act`` in one transaction with ``key``; return whether they ran.

    False: this form took effect before, nothing happens. A refusal undoes everything and does
    not burn the key, so the corrected form may carry it again.
    """
    if not 8 <= len(key) <= MOST_SIGNS:
        raise InvalidValueError("The form is incomplete.", remedy="Load the page again.")
    with joined_transaction():
        _, is_new = FormPost.objects.get_or_create(
            principal=principal, key=key, defaults={"created_at": at}
        )
        if is_new:
            act()
    return is_new


def forget_old(*, at: datetime) -> int:
    """Delete keys older than 30 days; return how many."""
    return FormPost.objects.filter(created_at__lt=at - KEPT).delete()[0]
