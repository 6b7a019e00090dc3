"""Cutting plans: which piece comes out of which bar, and what became of it at the saw."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from contractor.api.models import Branch, Versioned
from inventory.models.kits import Kit, KitLine
from inventory.models.parts import Part
from inventory.models.places import Offcut, StockLength


class CuttingPlan(Versioned):
    """Pieces of several kits of one part. ``requested`` and ``needs_replan`` are the queue.

    ``cost_cents`` is the bars' value, ``bound_cents`` what no plan can go below for the same
    pieces and bars; ``is_proven`` when they meet. Both count bars that were sawn before a plan
    was made again, at what they were worth (``sawn_cents``). ``problem`` says why a request was
    refused.
    """

    class Status(models.TextChoices):
        REQUESTED = "requested"
        DRAFT = "draft"
        FROZEN = "frozen"
        DONE = "done"
        CANCELLED = "cancelled"
        REFUSED = "refused"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="cutting_plans")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="cutting_plans")
    kits = models.ManyToManyField(Kit, related_name="cutting_plans")
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.REQUESTED)
    needs_replan = models.BooleanField(default=False)
    revision = models.PositiveIntegerField(default=0)
    kerf_ticks = models.PositiveIntegerField(default=0)
    end_trim_ticks = models.PositiveIntegerField(default=0)
    min_offcut_ticks = models.PositiveIntegerField(default=0)
    cost_cents = models.PositiveBigIntegerField(default=0)
    bound_cents = models.PositiveBigIntegerField(default=0)
    sawn_cents = models.PositiveBigIntegerField(default=0)
    is_proven = models.BooleanField(default=False)
    method = models.CharField(max_length=200, blank=True)
    seconds = models.FloatField(default=0.0)
    problem: models.JSONField[Any, Any] = models.JSONField(default=dict, blank=True)
    planned_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(
                fields=["id"],
                condition=Q(status="requested") | Q(needs_replan=True),
                name="cutting_plan_due",
            ),
        ]

    def __str__(self) -> str:
        return f"cutting plan {self.pk}"

    @property
    def gap(self) -> float:
        return (self.cost_cents - self.bound_cents) / self.cost_cents if self.cost_cents else 0.0


class CutPlanBar(models.Model):
    """One bar in saw order. A planned bar holds its stock; a sawn one has left it."""

    class Status(models.TextChoices):
        PLANNED = "planned"
        SAWN = "sawn"

    plan = models.ForeignKey(CuttingPlan, on_delete=models.PROTECT, related_name="bars")
    number = models.PositiveIntegerField()
    status = models.CharField(max_length=8, choices=Status.choices, default=Status.PLANNED)
    stock_length = models.ForeignKey(
        StockLength, on_delete=models.PROTECT, null=True, related_name="planned_bars"
    )
    offcut = models.ForeignKey(
        Offcut, on_delete=models.PROTECT, null=True, related_name="planned_bars"
    )
    length_ticks = models.PositiveIntegerField()
    left_ticks = models.PositiveIntegerField()
    is_kept = models.BooleanField(default=False)
    kept_offcut = models.OneToOneField(
        Offcut, on_delete=models.PROTECT, null=True, related_name="cut_from"
    )
    sawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["plan", "number"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "number"], name="plan_bar_number_once"),
            models.CheckConstraint(
                condition=Q(stock_length__isnull=False, offcut__isnull=True)
                | Q(stock_length__isnull=True, offcut__isnull=False),
                name="plan_bar_one_place",
            ),
        ]

    def __str__(self) -> str:
        return f"bar {self.number} of {self.plan}"

    @property
    def place(self) -> StockLength | Offcut:
        found = self.stock_length or self.offcut
        assert found is not None  # the constraint plan_bar_one_place
        return found


class CutPiece(models.Model):
    """One piece of one bar. ``cents`` is its share of the bar's value once it is sawn."""

    class Status(models.TextChoices):
        PLANNED = "planned"
        SAWN = "sawn"
        MIS_CUT = "mis_cut"
        SCRAPPED = "scrapped"

    bar = models.ForeignKey(CutPlanBar, on_delete=models.CASCADE, related_name="pieces")
    kit_line = models.ForeignKey(KitLine, on_delete=models.PROTECT, related_name="cut_pieces")
    position = models.PositiveIntegerField()
    length_ticks = models.PositiveIntegerField()
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.PLANNED)
    cents = models.PositiveBigIntegerField(default=0)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["bar", "position"]
        constraints = [
            models.UniqueConstraint(fields=["bar", "position"], name="piece_position_once"),
        ]

    def __str__(self) -> str:
        return f"piece {self.position} of {self.bar}"
