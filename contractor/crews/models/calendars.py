"""Days on which nobody works, and the private addresses of calendar feeds."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from contractor.api.models import Audited, Branch, Versioned
from contractor.crews.models.crews import Crew, Member
from jobs.models import Job


class Holiday(Versioned):
    """A day off at one branch. A list from a library is a proposal until somebody confirms it."""

    branch = models.ForeignKey(Branch, on_delete=models.CASCADE, related_name="holidays")
    day = models.DateField()
    name = models.CharField(max_length=120)
    is_confirmed = models.BooleanField(default=False)

    class Meta:
        ordering = ["day", "id"]
        constraints = [
            models.UniqueConstraint(fields=["branch", "day"], name="holiday_once_per_branch"),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.day}"


class Absence(Versioned):
    """A crew or one member is away, first to last day included; ``half`` for half a day."""

    class Half(models.TextChoices):
        MORNING = "am"
        AFTERNOON = "pm"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    crew = models.ForeignKey(
        Crew, on_delete=models.CASCADE, null=True, blank=True, related_name="absences"
    )
    member = models.ForeignKey(
        Member, on_delete=models.CASCADE, null=True, blank=True, related_name="absences"
    )
    first = models.DateField()
    last = models.DateField()
    half = models.CharField(max_length=2, choices=Half.choices, blank=True)
    reason = models.CharField(max_length=120, blank=True)
    source = models.CharField(
        max_length=80, blank=True, help_text="outside calendar it was read from"
    )

    class Meta:
        ordering = ["first", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(last__gte=models.F("first")), name="absence_ends_after_start"
            ),
            models.CheckConstraint(
                condition=models.Q(crew__isnull=True) ^ models.Q(member__isnull=True),
                name="absence_of_crew_or_member",
            ),
        ]

    def __str__(self) -> str:
        return f"absence {self.first} to {self.last}"


class CalendarFeed(Audited):
    """A secret address of the calendar of a crew, a member or a job.

    Only the SHA-256 of its token is kept; ``url`` is known to whoever has just made it.
    """

    audit_hidden: ClassVar[frozenset[str]] = frozenset({"token_hash"})
    quiet_fields: ClassVar[frozenset[str]] = frozenset({"last_used_at"})

    url: str = ""

    branch = models.ForeignKey(Branch, on_delete=models.CASCADE, related_name="+")
    crew = models.ForeignKey(
        Crew, on_delete=models.CASCADE, null=True, blank=True, related_name="feeds"
    )
    member = models.ForeignKey(
        Member, on_delete=models.CASCADE, null=True, blank=True, related_name="feeds"
    )
    job = models.ForeignKey(
        Job, on_delete=models.CASCADE, null=True, blank=True, related_name="feeds"
    )
    token_hash = models.CharField(max_length=64, unique=True)
    shows_addresses = models.BooleanField(default=False)
    created_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=(
                    models.Q(crew__isnull=False, member__isnull=True, job__isnull=True)
                    | models.Q(crew__isnull=True, member__isnull=False, job__isnull=True)
                    | models.Q(crew__isnull=True, member__isnull=True, job__isnull=False)
                ),
                name="feed_of_crew_member_or_job",
            ),
        ]

    def __str__(self) -> str:
        return f"calendar feed {self.pk}"
