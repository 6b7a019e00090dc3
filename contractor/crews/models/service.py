"""Service visits: when homeowners have time, the plan of several days, and who goes when."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models

from contractor.api.models import Branch, Versioned
from contractor.crews.models.crews import Member
from contractor.crews.models.plans import Proposal
from jobs.models import VisitRequest


class ServiceWindow(Versioned):
    """The homeowner offers to have somebody in, work starting from ``opens`` to ``closes``."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    request = models.ForeignKey(VisitRequest, on_delete=models.CASCADE, related_name="windows")
    day = models.DateField()
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["day", "opens", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(closes__gte=models.F("opens")),
                name="window_closes_after_opening",
            ),
            models.UniqueConstraint(
                fields=["request", "day", "opens"], name="window_once_per_request"
            ),
        ]

    def __str__(self) -> str:
        return f"window of request {self.request_id} on {self.day}"


class ServicePlan(Proposal):
    """A proposal of service visits: ``service-visits/1`` in, ``visit-plan/1`` out."""

    noun: ClassVar[str] = "service_plan"

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(last_day__gte=models.F("first_day")),
                name="service_plan_ends_after_start",
            ),
            models.UniqueConstraint(
                fields=["branch"],
                condition=models.Q(status="published"),
                name="one_published_service_plan_per_branch",
            ),
        ]

    def __str__(self) -> str:
        return f"service plan {self.pk}"


class ServiceVisit(Versioned):
    """One member at one site. Times are wall-clock in the branch's zone.

    ``leaves`` and ``returns`` bound the time away for it: the drive to it, and after the last
    visit of the day the drive home.
    """

    class Status(models.TextChoices):
        TENTATIVE = "tentative"
        CONFIRMED = "confirmed"
        DONE = "done"
        CANCELLED = "cancelled"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="service_visits")
    request = models.ForeignKey(VisitRequest, on_delete=models.PROTECT, related_name="visits")
    plan = models.ForeignKey(ServicePlan, on_delete=models.PROTECT, related_name="visits")
    member = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="service_visits")
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.TENTATIVE)
    date = models.DateField()
    leaves = models.TimeField()
    starts = models.TimeField()
    finishes = models.TimeField()
    returns = models.TimeField()
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    sequence = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["date", "starts", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["request"],
                condition=models.Q(status__in=["tentative", "confirmed"]),
                name="one_open_visit_per_request",
            ),
            models.UniqueConstraint(
                fields=["member", "date", "starts"],
                condition=models.Q(status__in=["tentative", "confirmed"]),
                name="member_starts_one_visit_at_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"service visit {self.pk}"
