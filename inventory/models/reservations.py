"""Stock promised to somebody, until a moment."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from contractor.api.models import Branch, Versioned
from inventory.models.kits import Kit, KitLine
from inventory.models.ledger import ONE_PLACE
from inventory.models.parts import Part
from inventory.models.places import Offcut, StockLength, StockLevel


class Reservation(Versioned):
    """For a kit, or for whatever ``reference`` says. ``expires_at`` None: until released."""

    audited: ClassVar[bool] = False  # the lines and the events say it all

    class Status(models.TextChoices):
        HELD = "held"
        RELEASED = "released"
        EXPIRED = "expired"
        CONSUMED = "consumed"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="reservations")
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, null=True, related_name="reservations")
    reference = models.CharField(max_length=120, blank=True)
    priority = models.PositiveSmallIntegerField(default=1)
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.HELD)
    expires_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["kit"], condition=Q(status="held"), name="one_hold_per_kit"
            ),
        ]
        indexes = [
            models.Index(
                fields=["expires_at"], condition=Q(status="held"), name="reservation_expiry"
            ),
        ]

    def __str__(self) -> str:
        return self.reference or f"reservation {self.pk}"


class ReservationLine(models.Model):
    """``outstanding`` of ``quantity`` (units or bars) are still held, ``issued`` have left."""

    reservation = models.ForeignKey(Reservation, on_delete=models.PROTECT, related_name="lines")
    kit_line = models.ForeignKey(KitLine, on_delete=models.PROTECT, null=True, related_name="holds")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    stock_level = models.ForeignKey(
        StockLevel, on_delete=models.PROTECT, null=True, related_name="holds"
    )
    stock_length = models.ForeignKey(
        StockLength, on_delete=models.PROTECT, null=True, related_name="holds"
    )
    offcut = models.ForeignKey(Offcut, on_delete=models.PROTECT, null=True, related_name="holds")
    quantity = models.PositiveBigIntegerField()
    outstanding = models.PositiveBigIntegerField()
    issued = models.PositiveBigIntegerField(default=0)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=ONE_PLACE, name="reservation_one_place"),
            models.CheckConstraint(
                condition=Q(quantity__gte=1, outstanding__lte=F("quantity") - F("issued")),
                name="reservation_outstanding_within",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.outstanding} of {self.part}"
