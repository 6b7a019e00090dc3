"""Reminders, the homeowner's link, what they measured, and visits that this asks for."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from contractor.api.models import Audited, Branch, Versioned
from jobs.models.customers import Consent, Site
from jobs.models.jobs import Job


class Reminder(Versioned):
    """One due date of one job. ``message_id`` goes to the gateway as its idempotency key.

    ``claimed_until`` is the lease of the worker that sends; a crash after sending and before
    writing it down leaves SENDING, which becomes UNKNOWN: the gateway or a person says what
    happened, nothing is sent again blindly.
    """

    # Moved by machines by the thousand; its events tell the story.
    audited: ClassVar[bool] = False

    class Status(models.TextChoices):
        DUE = "due"
        SENDING = "sending"
        SENT = "sent"
        UNKNOWN = "unknown", "sent or not, nobody wrote it down"
        NO_CHANNEL = "no_channel", "the homeowner has no open channel"
        SUPERSEDED = "superseded", "a later one went out instead"
        DONE = "done", "the homeowner logged the re-tightening"
        CANCELLED = "cancelled"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="reminders")
    kind = models.CharField(max_length=20, default="re_tightening")
    due_on = models.DateField()
    reason = models.CharField(max_length=200)
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.DUE)
    not_before = models.DateTimeField(help_text="first instant inside the window to reach people")
    claimed_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    channel = models.CharField(max_length=8, choices=Consent.Channel.choices, blank=True)
    message_id = models.CharField(max_length=64, unique=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["due_on", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "kind", "due_on"], name="one_reminder_per_due_date"
            ),
        ]
        indexes = [models.Index(fields=["status", "not_before"])]

    def __str__(self) -> str:
        return f"{self.kind} of job {self.job_id} on {self.due_on}"


class HomeownerLink(Audited):
    """A secret address for one job's page; only the SHA-256 of its token is kept."""

    audit_parent: ClassVar[str] = "job"
    audit_hidden: ClassVar[frozenset[str]] = frozenset({"token_hash"})
    quiet_fields: ClassVar[frozenset[str]] = frozenset({"last_used_at"})

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="links")
    token_hash = models.CharField(max_length=64, unique=True)
    scope = models.CharField(max_length=20, default="follow_up")
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"link {self.pk} of job {self.job_id}"


class Reading(Versioned):
    """What was measured at one place on one day: inward offset, crack width or bolt torque.

    Bow and crack readings have a place on the wall (``at_ticks`` along, ``height_ticks`` up) and
    ``value_ticks``; torque readings have the brace's mark and ``torque_lbf_ft``. A reading with
    a ``doubt`` is kept to be confirmed and used nowhere until somebody did.
    """

    class Kind(models.TextChoices):
        BOW = "bow"
        TORQUE = "torque"
        CRACK = "crack"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="readings")
    wall = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    mark = models.CharField(max_length=12, blank=True, help_text="brace, for a torque")
    at_ticks = models.PositiveIntegerField(null=True, blank=True)
    height_ticks = models.PositiveIntegerField(null=True, blank=True)
    value_ticks = models.IntegerField(null=True, blank=True)
    torque_lbf_ft = models.FloatField(null=True, blank=True)
    measured_on = models.DateField()
    instrument = models.CharField(max_length=80, blank=True)
    resolution_ticks = models.PositiveIntegerField(null=True, blank=True)
    source = models.CharField(max_length=20, default="office")
    doubt = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["measured_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=(
                    models.Q(kind="torque", torque_lbf_ft__isnull=False, value_ticks__isnull=True)
                    | models.Q(
                        kind__in=["bow", "crack"],
                        torque_lbf_ft__isnull=True,
                        value_ticks__isnull=False,
                        at_ticks__isnull=False,
                        height_ticks__isnull=False,
                    )
                ),
                name="reading_has_its_value",
            ),
            models.UniqueConstraint(
                fields=["site", "wall", "kind", "at_ticks", "height_ticks", "measured_on"],
                condition=~models.Q(kind="torque") & models.Q(doubt=""),
                name="one_reading_a_day_and_place",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} on {self.wall}, {self.measured_on}"


class VisitRequest(Versioned):
    """A service visit somebody or the movement of a wall asks for; the crew plan takes it up."""

    class Status(models.TextChoices):
        OPEN = "open"
        PLANNED = "planned"
        DONE = "done"
        CANCELLED = "cancelled"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visit_requests")
    reason = models.CharField(max_length=40)
    detail = models.TextField(blank=True)
    severity = models.PositiveSmallIntegerField(default=2)
    wanted_by = models.DateField()
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.OPEN)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "reason"],
                condition=models.Q(status__in=["open", "planned"]),
                name="one_open_request_per_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reason} for job {self.job_id}"
