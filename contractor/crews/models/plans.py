"""Crew plans, the visits that a published plan makes, and decisions that a plan must respect."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from django.db import models

from contractor.api.models import Branch, Versioned
from contractor.crews.models.calendars import Absence
from contractor.crews.models.crews import Crew
from jobs.models import Job


class Proposal(Versioned):
    """A plan of one branch from the request to its publishing.

    ``instance`` is what the engine read, ``plan`` what it answered; both stay, so that any plan
    can be checked. ``input_hash`` is of the instance: a proposal is published only while it
    still holds. ``progress`` is written while the solver runs, at most every other second.
    """

    class Status(models.TextChoices):
        REQUESTED = "requested"
        COMPUTING = "computing"
        PROPOSED = "proposed"
        PUBLISHED = "published"
        SUPERSEDED = "superseded"
        FAILED = "failed"
        DISCARDED = "discarded"

    audit_hidden: ClassVar[frozenset[str]] = frozenset({"instance", "plan", "report"})
    quiet_fields: ClassVar[frozenset[str]] = frozenset({"progress"})
    noun: ClassVar[str]
    """Starts the names of its events."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.REQUESTED)
    cause = models.CharField(max_length=200, blank=True, help_text="why the office asks")
    today = models.DateField()
    first_day = models.DateField()
    last_day = models.DateField()
    seconds = models.FloatField(default=10.0)
    seed = models.PositiveIntegerField(default=1)
    claimed_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    progress: models.JSONField[Any, Any] = models.JSONField(default=dict)
    input_hash = models.CharField(max_length=64, blank=True)
    instance: models.JSONField[Any, Any] = models.JSONField(default=dict)
    plan: models.JSONField[Any, Any] = models.JSONField(default=dict)
    report: models.JSONField[Any, Any] = models.JSONField(default=dict)
    cost = models.BigIntegerField(null=True, blank=True)
    failure = models.CharField(max_length=400, blank=True)

    class Meta:
        abstract = True


class CrewPlan(Proposal):
    """A proposal of install work: ``install-sched/1`` in, ``install-plan/1`` out.

    ``mode`` says how the published plan is changed: the cheapest way, each change at its price,
    or with the fewest moves.
    """

    class Mode(models.TextChoices):
        PENALTY = "penalty"
        FEWEST_MOVES = "fewest-moves"

    noun: ClassVar[str] = "crew_plan"

    mode = models.CharField(max_length=12, choices=Mode.choices, default=Mode.PENALTY)
    bound = models.BigIntegerField(null=True, blank=True)
    is_proven = models.BooleanField(default=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(last_day__gte=models.F("first_day")),
                name="plan_ends_after_start",
            ),
            models.UniqueConstraint(
                fields=["branch"],
                condition=models.Q(status="published"),
                name="one_published_plan_per_branch",
            ),
        ]

    def __str__(self) -> str:
        return f"crew plan {self.pk}"


class Visit(Versioned):
    """A crew at a job for consecutive working half-days. ``uid`` and ``sequence`` are its
    identity in calendars: they survive every move."""

    class Status(models.TextChoices):
        TENTATIVE = "tentative"
        CONFIRMED = "confirmed"
        DONE = "done"
        CANCELLED = "cancelled"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="visits")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visits")
    plan = models.ForeignKey(CrewPlan, on_delete=models.PROTECT, related_name="visits")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="visits")
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.TENTATIVE)
    date = models.DateField()
    half = models.CharField(max_length=2, choices=Absence.Half.choices)
    half_days = models.PositiveSmallIntegerField()
    last_date = models.DateField()
    last_half = models.CharField(max_length=2, choices=Absence.Half.choices)
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    sequence = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["date", "half", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job"],
                condition=models.Q(status__in=["tentative", "confirmed"]),
                name="one_open_visit_per_job",
            ),
            models.UniqueConstraint(
                fields=["crew", "date", "half"],
                condition=models.Q(status__in=["tentative", "confirmed"]),
                name="crew_starts_one_visit_per_half_day",
            ),
            models.CheckConstraint(
                condition=models.Q(half_days__gte=1), name="visit_takes_some_time"
            ),
        ]

    def __str__(self) -> str:
        return f"visit {self.pk}"


class Pin(Versioned):
    """A decision of the office: the job stays with this crew, this day, this half, or all three."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="pins")
    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="pin")
    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, null=True, blank=True)
    date = models.DateField(null=True, blank=True)
    half = models.CharField(max_length=2, choices=Absence.Half.choices, blank=True)
    owner = models.CharField(max_length=120)
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(crew__isnull=False) | models.Q(date__isnull=False),
                name="pin_names_crew_or_day",
            ),
            models.CheckConstraint(
                condition=models.Q(half="") | models.Q(date__isnull=False),
                name="pinned_half_has_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"pin of job {self.job_id}"
