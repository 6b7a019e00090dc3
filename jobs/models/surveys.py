"""What was measured on a wall, and what the engine made of it."""

from __future__ import annotations

from typing import Any

from django.db import models

from contractor.api.models import Branch, Versioned
from jobs.models.customers import Site


class Survey(Versioned):
    """One measuring of one wall. Never edited: a re-measured wall is the next ``revision``."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="surveys")
    wall = models.CharField(max_length=80)
    revision = models.PositiveIntegerField()
    measured_on = models.DateField()
    document: models.JSONField[Any, Any] = models.JSONField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "wall", "revision"], name="survey_revision_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.wall} revision {self.revision}"


class BraceLayout(Versioned):
    """Layout, screening and bill of one survey under the rules and rates of one moment.

    ``input_hash`` covers survey, rules, hardware and rates: equal hash, equal answer. The
    documents are the engine's own (``brace-layout/1``, ``screening/1``, ``bill-of-materials/1``;
    SVG texts by name), so that sheets can be printed again years later.
    """

    class Outcome(models.TextChoices):
        WITHIN = "within_screening_limits", "within screening limits"
        REVIEW = "engineer_review_needed", "engineer review needed"
        NO_LAYOUT = "no_layout", "no layout meets the rules"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="layouts")
    outcome = models.CharField(max_length=30, choices=Outcome.choices)
    input_hash = models.CharField(max_length=64)
    layout: models.JSONField[Any, Any] = models.JSONField()
    screening: models.JSONField[Any, Any] = models.JSONField()
    bill: models.JSONField[Any, Any] = models.JSONField()
    drawings: models.JSONField[Any, Any] = models.JSONField(default=dict)
    brace_count = models.PositiveIntegerField()
    labour_minutes = models.PositiveIntegerField()
    weight_lb = models.FloatField()
    cost_cents = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["survey", "input_hash"], name="layout_once_per_input"),
        ]

    def __str__(self) -> str:
        return f"layout {self.pk} of survey {self.survey_id}"
