"""What comes back from homeowners: what they did, what they wrote, how their walls fare."""

from __future__ import annotations

from django.db import models

from contractor.api.models import Branch, Versioned
from jobs.models.customers import Customer, Site
from jobs.models.followup import Reminder
from jobs.models.jobs import Job


class CareLog(Versioned):
    """One answer of a homeowner to "how did it go?"; ``reminder`` is the one it settles."""

    class Outcome(models.TextChoices):
        DONE = "done", "re-tightened"
        COULD_NOT = "could_not", "could not do it"
        SOMETHING_WRONG = "something_wrong", "something is wrong"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="care_logs")
    reminder = models.ForeignKey(
        Reminder, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    outcome = models.CharField(max_length=16, choices=Outcome.choices)
    note = models.TextField(blank=True)
    logged_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["job", "logged_at"])]

    def __str__(self) -> str:
        return f"{self.outcome} at job {self.job_id}"


class TextReply(Versioned):
    """A text that came in. ``reply_id`` is the gateway's; the same id twice is one reply.

    A reply that means ``ask_office`` holds every message to its customer until somebody of the
    office has read it (``handled_at``).
    """

    class Meaning(models.TextChoices):
        OPT_OUT = "opt_out"
        OPT_IN = "opt_in"
        HELP = "help"
        ASK_OFFICE = "ask_office"
        NONE = "none", "nothing the tool understands"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    customer = models.ForeignKey(Customer, on_delete=models.CASCADE, related_name="replies")
    reply_id = models.CharField(max_length=100)
    meaning = models.CharField(max_length=12, choices=Meaning.choices)
    text = models.TextField()
    received_at = models.DateTimeField()
    handled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["customer", "reply_id"], name="text_reply_once"),
        ]
        indexes = [models.Index(fields=["customer", "meaning", "handled_at"])]

    def __str__(self) -> str:
        return f"reply {self.pk}: {self.meaning}"


class WallVerdict(models.Model):
    """What the movement engine said last about a wall, so that an office can list its walls."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="wall_verdicts")
    wall = models.CharField(max_length=80)
    verdict = models.CharField(max_length=20)
    reason = models.TextField()
    last_reading_on = models.DateField()
    next_reading_on = models.DateField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["site", "wall"], name="one_verdict_per_wall"),
        ]
        indexes = [models.Index(fields=["branch", "verdict"])]

    def __str__(self) -> str:
        return f"{self.wall}: {self.verdict}"
