"""Take stock from kits that can wait for a kit that cannot."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from contractor.api.events import record
from contractor.api.transactions import service
from contractor.errors import InvalidValueError, WrongStateError
from inventory import locks
from inventory.holding import place_of
from inventory.models import Kit, Reservation, ReservationLine
from inventory.services.reserving import hold_kit, release_held


@service
def take_over(
    kit_pk: int,
    donor_pks: Sequence[int],
    *,
    at: datetime,
    expires_at: datetime | None = None,
    if_match: int | None = None,
) -> Kit:
    """Release the donors' holds and reserve the kit, or change nothing.

    Donors are reserved kits of the same branch with a lower priority that nobody pulls yet;
    afterwards they are open. See ``queries.reallocation_proposals`` for who could give.
    """
    kits = {kit.pk: kit for kit in locks.lock_kits([kit_pk, *donor_pks])}
    kit = kits.pop(kit_pk)
    kit.expect_version(if_match)
    for donor in kits.values():
        if donor.branch_id != kit.branch_id or donor.priority >= kit.priority:
            raise InvalidValueError(
                f"Kit {donor.reference} is not of a lower priority at this branch.",
                remedy="Take over from kits that can wait.",
            )
        if donor.status != Kit.Status.RESERVED:
            raise WrongStateError(
                f"Kit {donor.reference} is {donor.status}.",
                remedy="Only a reserved kit that is not being pulled can give.",
                status_now=donor.status,
            )
    locks.lock_holds_of(list(kits.values()))
    _lock_places_of(kits)
    for donor in kits.values():
        release_held(donor, Reservation.Status.RELEASED)
        record("kit.hold_lost", donor, branch=donor.branch, to=kit.pk)
    hold_kit(kit, at, expires_at)
    return kit


def _lock_places_of(kits: dict[int, Kit]) -> None:
    """Lock all the donors hold, in order, for they are let go one kit after the other."""
    lines = ReservationLine.objects.filter(
        reservation__kit__in=list(kits), reservation__status=Reservation.Status.HELD
    )
    locks.lock_places(place_of(line) for line in lines)
