"""A kit: everything one installation needs, pulled together. It knows no job, only a reference."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from contractor.api.models import Audited, Branch, Versioned
from inventory.models.parts import Part


class Kit(Versioned):
    """``priority`` 1 to 4: the more severe the wall, the higher. Moves: ``inventory.states``."""

    class Status(models.TextChoices):
        OPEN = "open"
        RESERVED = "reserved"
        PULLING = "pulling"
        STAGED = "staged"
        LOADED = "loaded"
        USED = "used"
        RETURNED = "returned"
        CANCELLED = "cancelled"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="kits")
    reference = models.CharField(max_length=120)
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.OPEN)
    priority = models.PositiveSmallIntegerField(default=1)
    needed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(priority__gte=1, priority__lte=4), name="kit_priority_1_to_4"
            ),
        ]

    def __str__(self) -> str:
        return self.reference


class KitLine(Audited):
    """``quantity`` units, or pieces of ``length_ticks`` to be cut from bars.

    ``cut`` counts sawn pieces, ``pulled`` what lies in the kit, ``short`` what will not come
    (with ``reason``); ``returned``, ``scrapped`` (spoiled on site, with ``scrap_reason``) and
    ``used`` split what was pulled. ``cents`` is the cost of what the kit has taken out of stock
    and not brought back.
    """

    audit_parent: ClassVar[str] = "kit"

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    mark = models.CharField(max_length=40, blank=True)
    length_ticks = models.PositiveIntegerField(default=0)
    quantity = models.PositiveBigIntegerField()
    cut = models.PositiveBigIntegerField(default=0)
    pulled = models.PositiveBigIntegerField(default=0)
    short = models.PositiveBigIntegerField(default=0)
    returned = models.PositiveBigIntegerField(default=0)
    scrapped = models.PositiveBigIntegerField(default=0)
    used = models.PositiveBigIntegerField(default=0)
    cents = models.PositiveBigIntegerField(default=0)
    reason = models.CharField(max_length=200, blank=True)
    scrap_reason = models.CharField(max_length=200, blank=True)
    scrapped_at = models.DateTimeField(null=True, blank=True)
    substitutes = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="substituted_by"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gte=1, pulled__lte=F("quantity") - F("short")),
                name="kit_line_pulled_within",
            ),
            models.CheckConstraint(
                condition=Q(used__lte=F("pulled") - F("returned") - F("scrapped")),
                name="kit_line_used_within",
            ),
            models.CheckConstraint(
                condition=Q(scrapped=0) | Q(scrapped_at__isnull=False, scrap_reason__gt=""),
                name="kit_line_scrapped_why",
            ),
            models.CheckConstraint(
                condition=Q(cut__lte=F("quantity") - F("short")), name="kit_line_cut_within"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.part}"

    @property
    def wanted(self) -> int:
        """Return what the kit still has to get from somewhere: neither short nor pulled."""
        return self.quantity - self.short - self.pulled

    @property
    def to_cut(self) -> int:
        return self.quantity - self.short - self.cut

    @property
    def scrapped_cents(self) -> int:
        """Return how much of ``cents`` was spoiled on site, rounded down; the rest was used."""
        kept = self.used + self.scrapped
        return self.cents * self.scrapped // kept if kept else 0
