"""What the crew did, brace by brace."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from contractor.api.models import Audited, Branch, Versioned
from jobs.models.jobs import Job


class InstallRecord(Versioned):
    class Status(models.TextChoices):
        OPEN = "open"
        CLOSED = "closed"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="install")
    status = models.CharField(max_length=8, choices=Status.choices, default=Status.OPEN)
    started_on = models.DateField()
    installed_on = models.DateField(null=True, blank=True)
    checklist: models.JSONField[Any, Any] = models.JSONField(default=dict)
    left_with_homeowner: models.JSONField[Any, Any] = models.JSONField(default=list)
    signed_off_by = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"install record of job {self.job_id}"


class BraceRecord(Versioned):
    """One brace: what was planned, what was measured, done and skipped (with the reason)."""

    audit_parent: ClassVar[str] = "install"

    install = models.ForeignKey(InstallRecord, on_delete=models.CASCADE, related_name="braces")
    wall = models.CharField(max_length=80)
    mark = models.CharField(max_length=12)
    planned_height_ticks = models.PositiveIntegerField()
    torque_limit_lbf_ft = models.FloatField()
    anchors_wanted = models.PositiveSmallIntegerField()
    needs_seal = models.BooleanField()
    measured_height_ticks = models.PositiveIntegerField(null=True, blank=True)
    torque_lbf_ft = models.FloatField(null=True, blank=True)
    tool = models.CharField(max_length=80, blank=True)
    anchors_set = models.PositiveSmallIntegerField(null=True, blank=True)
    is_sealed = models.BooleanField(null=True, blank=True)
    out_of_plumb_ticks = models.PositiveIntegerField(null=True, blank=True)
    label_date = models.DateField(null=True, blank=True)
    skipped: models.JSONField[Any, Any] = models.JSONField(default=dict)
    note = models.TextField(blank=True)
    recorded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["install", "wall", "mark"], name="brace_once_per_install"
            ),
            models.CheckConstraint(
                condition=models.Q(torque_lbf_ft__isnull=True)
                | models.Q(torque_lbf_ft__lte=models.F("torque_limit_lbf_ft")),
                name="torque_within_limit",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} on {self.wall}"


class Photo(Audited):
    """A picture re-encoded without its metadata; ``taken_at`` is the camera's time if it said."""

    audit_parent: ClassVar[str] = "install"

    install = models.ForeignKey(InstallRecord, on_delete=models.CASCADE, related_name="photos")
    brace = models.ForeignKey(
        BraceRecord, on_delete=models.SET_NULL, null=True, blank=True, related_name="photos"
    )
    file = models.FileField(upload_to="photos/%Y/%m/")
    thumbnail = models.FileField(upload_to="photos/%Y/%m/")
    source = models.CharField(max_length=20, default="crew")
    taken_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"photo {self.pk}"
