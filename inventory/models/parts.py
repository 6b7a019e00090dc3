"""What a contractor stocks, who sells it, and when to buy more."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from contractor.api.models import Audited, Branch, Company, Versioned

INCH = 64


class Part(Versioned):
    """A bar is stocked by length (``*_ticks``), everything else by unit of use.

    ``pack_size`` is how many units of use one purchase pack holds (a box of 50 washers).
    ``weight_lb`` is per unit of use; a bar has ``weight_plf``, pounds per foot, instead.
    ``facts`` are the catalogue's further members (flange width, what a bracket fits ...).
    """

    class Kind(models.TextChoices):
        EACH = "each"
        BAR = "bar"
        CONSUMABLE = "consumable"

    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="parts")
    code = models.CharField(max_length=60)
    description = models.CharField(max_length=200)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    unit_of_use = models.CharField(max_length=20, default="each")
    pack_name = models.CharField(max_length=20, blank=True)
    pack_size = models.PositiveIntegerField(default=1)
    weight_lb = models.FloatField(null=True, blank=True)
    weight_plf = models.FloatField(null=True, blank=True)
    role = models.CharField(max_length=40, blank=True)
    profile = models.CharField(max_length=40, blank=True)
    grade = models.CharField(max_length=40, blank=True)
    kerf_ticks = models.PositiveIntegerField(default=INCH // 8)
    end_trim_ticks = models.PositiveIntegerField(default=0)
    min_offcut_ticks = models.PositiveIntegerField(default=24 * INCH)
    shelf_life_days = models.PositiveIntegerField(null=True, blank=True)
    facts: models.JSONField[Any, Any] = models.JSONField(default=dict, blank=True)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["company", "code"], name="part_code_once"),
            models.CheckConstraint(condition=Q(pack_size__gte=1), name="part_pack_holds_one"),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def is_bar(self) -> bool:
        return self.kind == Part.Kind.BAR


class Supplier(Versioned):
    """``minimum_order_cents``: below it the supplier does not deliver."""

    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="suppliers")
    name = models.CharField(max_length=120)
    lead_days = models.PositiveIntegerField(default=7)
    minimum_order_cents = models.PositiveBigIntegerField(default=0)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["company", "name"], name="supplier_name_once"),
        ]

    def __str__(self) -> str:
        return self.name


class SupplierPart(Audited):
    """One line of a supplier's price list. Bars are priced by the bar of one length."""

    audit_parent: ClassVar[str] = "supplier"

    supplier = models.ForeignKey(Supplier, on_delete=models.CASCADE, related_name="price_list")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="price_list")
    length_ticks = models.PositiveIntegerField(default=0)
    pack_size = models.PositiveIntegerField(default=1)
    pack_cents = models.PositiveBigIntegerField()
    minimum_packs = models.PositiveIntegerField(default=1)
    lead_days = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["supplier", "part", "length_ticks"], name="supplier_part_once"
            ),
            models.CheckConstraint(
                condition=Q(pack_size__gte=1, minimum_packs__gte=1), name="supplier_pack_holds_one"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} from {self.supplier}"

    @property
    def days(self) -> int:
        return self.supplier.lead_days if self.lead_days is None else self.lead_days


class ReorderRule(Audited):
    """Buy when available and on order together fall below ``point``, up to ``order_up_to``.

    Units of use, or bars of ``length_ticks``.
    """

    branch = models.ForeignKey(Branch, on_delete=models.CASCADE, related_name="reorder_rules")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="reorder_rules")
    length_ticks = models.PositiveIntegerField(default=0)
    point = models.PositiveIntegerField()
    order_up_to = models.PositiveIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["branch", "part", "length_ticks"], name="reorder_rule_once"
            ),
            models.CheckConstraint(
                condition=Q(order_up_to__gte=models.F("point")), name="reorder_up_to_point"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} at {self.branch}: {self.point}"
