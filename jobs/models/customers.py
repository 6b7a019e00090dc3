"""Who owns the house, how they may be reached, and where the house stands."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from contractor.api.models import Audited, Branch, Versioned


def digits_of(phone: str) -> str:
    """Return the last ten digits: how a text gateway and a typed number are told the same."""
    return "".join(sign for sign in phone if sign.isdecimal())[-10:]


class Customer(Versioned):
    """``phone_digits`` follows ``phone``: replies are matched by it.

    ``reference`` is the number that other books of the office have for the row; imports find
    rows by it.
    """

    quiet_fields: ClassVar[frozenset[str]] = frozenset({"phone_digits"})

    class Language(models.TextChoices):
        ENGLISH = "en", "English"
        SPANISH = "es", "Español"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="customers")
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=32, blank=True)
    phone_digits = models.CharField(max_length=10, blank=True, db_index=True, editable=False)
    language = models.CharField(max_length=2, choices=Language.choices, default=Language.ENGLISH)
    reference = models.CharField(max_length=60, blank=True, default="", db_default="")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["branch", "reference"],
                condition=~models.Q(reference=""),
                name="customer_reference_once",
            ),
        ]

    def __str__(self) -> str:
        return f"customer {self.pk}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.phone_digits = digits_of(self.phone)
        if kwargs.get("update_fields") is not None:
            kwargs["update_fields"] = {*kwargs["update_fields"], "phone_digits"}
        super().save(*args, **kwargs)


class Consent(Audited):
    """One channel the homeowner said yes to. Taking it back sets ``revoked_at`` at once.

    ``is_stopped`` marks an address that bounced or a number that failed: the channel rests
    until the office corrects it.
    """

    audit_parent: ClassVar[str] = "customer"

    class Channel(models.TextChoices):
        EMAIL = "email"
        TEXT = "text"

    customer = models.ForeignKey(Customer, on_delete=models.CASCADE, related_name="consents")
    channel = models.CharField(max_length=8, choices=Channel.choices)
    source = models.CharField(max_length=120)
    granted_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.CharField(max_length=120, blank=True)
    is_stopped = models.BooleanField(default=False)
    stopped_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["customer", "channel"],
                condition=models.Q(revoked_at__isnull=True),
                name="one_live_consent_per_channel",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.channel} consent of customer {self.customer_id}"


class Site(Versioned):
    """The house. ``reference`` as with customers."""

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="sites")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="sites")
    label = models.CharField(max_length=120)
    address = models.CharField(max_length=240, blank=True)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    time_zone = models.CharField(max_length=64)
    state = models.CharField(max_length=2, blank=True, help_text="two letters, for quiet hours")
    built_year = models.PositiveSmallIntegerField(null=True, blank=True)
    reference = models.CharField(max_length=60, blank=True, default="", db_default="")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["branch", "reference"],
                condition=~models.Q(reference=""),
                name="site_reference_once",
            ),
            models.CheckConstraint(
                condition=models.Q(latitude__isnull=True)
                | (models.Q(latitude__gte=-90) & models.Q(latitude__lte=90)),
                name="site_latitude_on_earth",
            ),
            models.CheckConstraint(
                condition=models.Q(longitude__isnull=True)
                | (models.Q(longitude__gte=-180) & models.Q(longitude__lte=180)),
                name="site_longitude_on_earth",
            ),
        ]

    def __str__(self) -> str:
        return self.label
