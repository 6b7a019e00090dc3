"""Counts, adjustments and transfers between branches."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from contractor.api.models import Audited, Branch, Versioned
from inventory.models.ledger import LedgerEntry
from inventory.models.parts import Part
from inventory.models.places import Lot


class StockCount(Audited):
    """What was found at a place against what the ledger said, and why they differ.

    An adjustment is the same with ``expected`` + change instead of a count.
    """

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="counts")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    entry = models.OneToOneField(LedgerEntry, on_delete=models.PROTECT, null=True, related_name="+")
    expected = models.BigIntegerField()
    found = models.BigIntegerField()
    reason = models.CharField(max_length=200)
    is_adjustment = models.BooleanField(default=False)
    at = models.DateTimeField()
    actor = models.CharField(max_length=80, default="system")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(found__gte=0), name="count_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.found}, expected {self.expected}"


class Transfer(Versioned):
    """Leaves one branch at once, arrives at the other later; in between it is in transit."""

    class Status(models.TextChoices):
        IN_TRANSIT = "in_transit"
        ARRIVED = "arrived"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="transfers_out")
    to_branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="transfers_in")
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.IN_TRANSIT)
    expected_on = models.DateField(null=True, blank=True)
    left_at = models.DateTimeField()
    arrived_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(branch=F("to_branch")), name="transfer_between_two_branches"
            ),
        ]

    def __str__(self) -> str:
        return f"transfer {self.pk}"


class TransferLine(models.Model):
    """``offcut_tag`` is set when a single offcut travels; ``cents`` travel with the goods."""

    transfer = models.ForeignKey(Transfer, on_delete=models.PROTECT, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, related_name="+")
    length_ticks = models.PositiveIntegerField(default=0)
    offcut_tag = models.CharField(max_length=20, blank=True)
    quantity = models.PositiveBigIntegerField()
    arrived = models.PositiveBigIntegerField(null=True, blank=True)
    cents = models.PositiveBigIntegerField()
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gte=1)
                & (Q(arrived__isnull=True) | Q(arrived__lte=F("quantity"))),
                name="transfer_arrived_within",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.part}"
