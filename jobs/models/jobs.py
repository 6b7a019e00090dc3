"""A job: walls of one site to be braced together, from survey to the end of follow-up."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from django.db import models

from contractor.api.models import Audited, Branch, Versioned
from inventory.models import Kit
from jobs.models.customers import Site
from jobs.models.surveys import BraceLayout


def any_weekday() -> list[int]:
    """Monday is 0; the homeowner lets the crew in on any of these."""
    return [0, 1, 2, 3, 4]


class Job(Versioned):
    """``document_key`` names the job in documents that travel: the same one twice is one job."""

    quiet_fields: ClassVar[frozenset[str]] = frozenset({"document_key"})

    class Status(models.TextChoices):
        IN_REVIEW = "in_review", "an engineer has to decide"
        RELEASED = "released", "may be built"
        RESERVED = "reserved", "material is reserved"
        PLANNED = "planned", "a visit is planned"
        INSTALLING = "installing", "the crew is on site"
        INSTALLED = "installed", "braces stand, follow-up runs"
        CLOSED = "closed", "follow-up has ended"
        CANCELLED = "cancelled", "will not be built"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="jobs")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="jobs")
    title = models.CharField(max_length=120)
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.RELEASED)
    severity = models.PositiveSmallIntegerField(default=2)
    due = models.DateField()
    labour_minutes = models.PositiveIntegerField()
    weight_lb = models.FloatField()
    brace_count = models.PositiveIntegerField()
    skills: models.JSONField[Any, Any] = models.JSONField(default=list)
    min_crew_size = models.PositiveSmallIntegerField(default=2)
    weekdays: models.JSONField[Any, Any] = models.JSONField(default=any_weekday)
    permit_release = models.DateField(null=True, blank=True)
    material_ready = models.DateField(null=True, blank=True)
    kit = models.OneToOneField(
        Kit, on_delete=models.PROTECT, null=True, blank=True, related_name="job"
    )
    document_key = models.UUIDField(default=uuid.uuid4, editable=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["branch", "document_key"], name="job_document_once_per_branch"
            ),
            models.CheckConstraint(
                condition=models.Q(severity__gte=1) & models.Q(severity__lte=4),
                name="job_severity_1_to_4",
            ),
            models.CheckConstraint(
                condition=models.Q(min_crew_size__gte=1), name="job_needs_somebody"
            ),
        ]
        indexes = [
            models.Index(fields=["branch", "status", "due"]),
            # Lists show the newest first, of one branch or of several.
            models.Index(fields=["branch", "created_at", "id"], name="job_newest_of_branch"),
            models.Index(fields=["created_at", "id"], name="job_newest_first"),
        ]

    def __str__(self) -> str:
        return self.title


class JobWall(Audited):
    """The layout that the job builds on one wall; a re-measured wall gets another layout."""

    audit_parent: ClassVar[str] = "job"

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="walls")
    wall = models.CharField(max_length=80)
    layout = models.ForeignKey(BraceLayout, on_delete=models.PROTECT, related_name="job_walls")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["job", "wall"], name="wall_once_per_job"),
        ]

    def __str__(self) -> str:
        return f"{self.wall} of job {self.job_id}"


class LayoutRecord(models.Model):
    """What another engine, or ours under other settings, had made of a wall that was built.

    It came with an imported job and is kept to be read; nothing is computed or printed from it.
    """

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="layout_records")
    wall = models.CharField(max_length=80)
    engine = models.CharField(max_length=60)
    outcome = models.CharField(max_length=30, choices=BraceLayout.Outcome.choices)
    layout: models.JSONField[Any, Any] = models.JSONField()
    screening: models.JSONField[Any, Any] = models.JSONField()
    bill: models.JSONField[Any, Any] = models.JSONField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["job", "wall"], name="layout_record_once_per_wall"),
        ]

    def __str__(self) -> str:
        return f"{self.wall} of job {self.job_id} by {self.engine}"


class EngineerRelease(Audited):
    """A licensed engineer looked at what the screening could not decide and let it be built.

    ``torque_lbf_ft`` is the engineer's own limit, where it differs from the screening's.
    """

    audit_parent: ClassVar[str] = "job"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="releases")
    engineer = models.CharField(max_length=120)
    licence = models.CharField(max_length=60)
    released_on = models.DateField()
    torque_lbf_ft = models.FloatField(null=True, blank=True)
    note = models.TextField(blank=True)
    entered_by = models.CharField(max_length=80)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"release of job {self.job_id} on {self.released_on}"


class Blackout(Audited):
    """Days on which the homeowner cannot have the crew (both days included)."""

    audit_parent: ClassVar[str] = "job"

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="blackouts")
    first = models.DateField()
    last = models.DateField()

    class Meta:
        ordering = ["first", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(last__gte=models.F("first")), name="blackout_ends_after_start"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.first} to {self.last}"
