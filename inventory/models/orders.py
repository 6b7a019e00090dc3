"""What suppliers have been asked for, what they promised, what came."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from contractor.api.models import Audited, Branch, Versioned
from inventory.models.parts import Part, Supplier
from inventory.models.places import Lot


class SupplierOrder(Versioned):
    class Status(models.TextChoices):
        DRAFT = "draft"
        PLACED = "placed"
        PARTLY_RECEIVED = "partly_received"
        RECEIVED = "received"
        CANCELLED = "cancelled"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="supplier_orders")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="orders")
    reference = models.CharField(max_length=120, blank=True)
    status = models.CharField(max_length=16, choices=Status.choices, default=Status.DRAFT)
    placed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.reference or f"order {self.pk}"


class SupplierOrderLine(Audited):
    """``quantity`` in units of use, or bars of ``length_ticks``; ``cents`` for all of them."""

    audit_parent: ClassVar[str] = "order"

    order = models.ForeignKey(SupplierOrder, on_delete=models.PROTECT, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="order_lines")
    length_ticks = models.PositiveIntegerField(default=0)
    quantity = models.PositiveBigIntegerField()
    received = models.PositiveBigIntegerField(default=0)
    cents = models.PositiveBigIntegerField()
    promised_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gte=1, received__lte=F("quantity")),
                name="order_received_within",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.part}"

    @property
    def outstanding(self) -> int:
        return self.quantity - self.received


class Receipt(Audited):
    """One delivery, with or without an order."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="receipts")
    order = models.ForeignKey(
        SupplierOrder, on_delete=models.PROTECT, null=True, related_name="receipts"
    )
    reference = models.CharField(max_length=120, blank=True)
    at = models.DateTimeField()
    actor = models.CharField(max_length=80, default="system")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.reference or f"receipt {self.pk}"


class ReceiptLine(models.Model):
    receipt = models.ForeignKey(Receipt, on_delete=models.PROTECT, related_name="lines")
    order_line = models.ForeignKey(
        SupplierOrderLine, on_delete=models.PROTECT, null=True, related_name="receipts"
    )
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, related_name="receipts")
    length_ticks = models.PositiveIntegerField(default=0)
    quantity = models.PositiveBigIntegerField()
    cents = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.part}"
