"""Where stock lies: units by count, full bars by length and count, offcuts one by one.

In every place ``0 <= reserved <= on_hand``, and the table says so. ``reserved`` is what
reservations and cutting plans hold.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from contractor.api.models import Audited, Branch
from inventory.models.parts import Part


class Bin(Audited):
    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="bins")
    name = models.CharField(max_length=40)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["branch", "name"], name="bin_name_once")]

    def __str__(self) -> str:
        return self.name


class Lot(Audited):
    """A heat of steel with its mill certificate, or a batch of sealant with its last day."""

    audit_parent: ClassVar[str] = "part"

    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="lots")
    number = models.CharField(max_length=60)
    certificate = models.FileField(upload_to="certificates", blank=True)
    expires_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["part", "number"], name="lot_number_once")]

    def __str__(self) -> str:
        return self.number


class Place(models.Model):
    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    bin = models.ForeignKey(Bin, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    on_hand = models.BigIntegerField(default=0)
    reserved = models.BigIntegerField(default=0)

    class Meta:
        abstract = True

    @property
    def available(self) -> int:
        return self.on_hand - self.reserved

    @property
    def unit_quantity(self) -> int:
        """Return what one of ``on_hand`` counts for in the ledger: 1 unit, or the bar's ticks."""
        return 1


class StockLevel(Place):
    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reserved__gte=0, reserved__lte=F("on_hand")),
                name="stock_level_reserved_within_on_hand",
            ),
            models.UniqueConstraint(
                "branch",
                "part",
                Coalesce("lot", 0),
                Coalesce("bin", 0),
                name="stock_level_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.on_hand}"


class StockLength(Place):
    """Full bars of one length."""

    length_ticks = models.PositiveIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reserved__gte=0, reserved__lte=F("on_hand")),
                name="stock_length_reserved_within_on_hand",
            ),
            models.CheckConstraint(condition=Q(length_ticks__gte=1), name="stock_length_positive"),
            models.UniqueConstraint(
                "branch",
                "part",
                "length_ticks",
                Coalesce("lot", 0),
                Coalesce("bin", 0),
                name="stock_length_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} x {self.length_ticks}: {self.on_hand}"

    @property
    def unit_quantity(self) -> int:
        return self.length_ticks


class Offcut(Place):
    """One remainder with a tag; ``on_hand`` is 1 until it is used up."""

    tag = models.CharField(max_length=20)
    length_ticks = models.PositiveIntegerField()
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reserved__gte=0, reserved__lte=F("on_hand"), on_hand__lte=1),
                name="offcut_reserved_within_on_hand",
            ),
            models.CheckConstraint(condition=Q(length_ticks__gte=1), name="offcut_positive"),
            models.UniqueConstraint(fields=["branch", "tag"], name="offcut_tag_once"),
        ]
        indexes = [
            models.Index(fields=["branch", "part"], condition=Q(on_hand=1), name="offcut_in_stock"),
        ]

    def __str__(self) -> str:
        return self.tag

    @property
    def unit_quantity(self) -> int:
        return self.length_ticks
