"""Rows whose time has come; the sweeps ask."""

from __future__ import annotations

from datetime import datetime

from inventory.models import CuttingPlan, Reservation

MOST = 500


def expired_reservations(at: datetime) -> list[int]:
    rows = Reservation.objects.filter(status=Reservation.Status.HELD, expires_at__lte=at)
    return list(rows.order_by("expires_at", "pk").values_list("pk", flat=True)[:MOST])


def requested_plans() -> list[int]:
    rows = CuttingPlan.objects.filter(status=CuttingPlan.Status.REQUESTED)
    return list(rows.order_by("pk").values_list("pk", flat=True)[:MOST])


def plans_to_replan() -> list[int]:
    """Return plans that wait for a new version of their unsawn part."""
    live = (CuttingPlan.Status.DRAFT, CuttingPlan.Status.FROZEN)
    rows = CuttingPlan.objects.filter(needs_replan=True, status__in=live)
    return list(rows.order_by("pk").values_list("pk", flat=True)[:MOST])
