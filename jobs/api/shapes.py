"""Shapes of customers, sites, surveys and layouts."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from contractor.api.fields import InstantField, ScopedKeyField
from contractor.api.models import Branch
from contractor.api.one_branch import same_branch
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.engine.calendars.zones import zone
from contractor.engine.errors import InputError
from jobs.models import BraceLayout, Consent, Customer, Site, Survey


class ConsentShape(StrictModelSerializer[Consent]):
    class Meta:
        model = Consent
        fields = [
            *("channel", "source", "granted_at", "revoked_at", "revoked_by"),
            *("is_stopped", "stopped_why"),
        ]
        read_only_fields = fields


class CustomerShape(StrictModelSerializer[Customer]):
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    consents = ConsentShape(many=True, read_only=True)

    class Meta:
        model = Customer
        fields = [
            *("id", "branch", "reference", "name", "email", "phone", "language", "consents"),
            *("version", "created_at", "updated_at"),
        ]
        read_only_fields = ["id", "consents", "version", "created_at", "updated_at"]
        # Who is told that a reference is taken: the service, not a validator.
        validators: list[Any] = []


class ChangeCustomerShape(CustomerShape):
    """A customer stays at its branch: sites, jobs and consent hang on it."""

    branch = serializers.PrimaryKeyRelatedField[Branch](read_only=True)  # type: ignore[assignment]


class GrantShape(StrictSerializer):
    channel = serializers.ChoiceField(choices=Consent.Channel.choices)
    source = serializers.CharField(max_length=120)  # type: ignore[assignment]
    at = InstantField(required=False)


class OptOutShape(StrictSerializer):
    channel = serializers.ChoiceField(
        choices=Consent.Channel.choices, required=False, allow_null=True, default=None
    )
    by = serializers.CharField(max_length=120)


def known_zone(value: str) -> str:
    """Return ``value``, an IANA time zone. Raises ValidationError."""
    try:
        zone(value)
    except InputError as error:
        raise serializers.ValidationError(
            f"{error.reason} {error.remedy}", code=error.code
        ) from error
    return value


class SiteShape(StrictModelSerializer[Site]):
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    customer = ScopedKeyField(Customer.objects.all(), branch_path="branch")

    class Meta:
        model = Site
        fields = [
            *("id", "branch", "customer", "reference", "label", "address", "latitude"),
            *("longitude", "time_zone", "state", "built_year"),
            *("version", "created_at", "updated_at"),
        ]
        read_only_fields = ["id", "version", "created_at", "updated_at"]
        validators: list[Any] = []
        extra_kwargs = {
            "latitude": {"min_value": -90, "max_value": 90},
            "longitude": {"min_value": -180, "max_value": 180},
        }

    def validate_time_zone(self, value: str) -> str:
        return known_zone(value)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return same_branch(attrs, self.instance, ("customer",))


class ChangeSiteShape(SiteShape):
    """A site stays at its branch."""

    branch = serializers.PrimaryKeyRelatedField[Branch](read_only=True)  # type: ignore[assignment]


class SurveyShape(StrictModelSerializer[Survey]):
    """``document`` is a ``wall-survey/1``."""

    site = ScopedKeyField(Site.objects.all(), branch_path="branch")
    document = serializers.JSONField()

    class Meta:
        model = Survey
        fields = [
            *("id", "branch", "site", "wall", "revision", "measured_on", "document"),
            *("version", "created_at"),
        ]
        read_only_fields = ["id", "branch", "revision", "version", "created_at"]
        # The next revision is found under the site's lock, not by a validator beforehand.
        validators: list[Any] = []


class LayoutShape(StrictModelSerializer[BraceLayout]):
    """The engine's documents: ``brace-layout/1``, ``screening/1``, ``bill-of-materials/1``."""

    layout = serializers.JSONField(read_only=True)
    screening = serializers.JSONField(read_only=True)
    bill = serializers.JSONField(read_only=True)

    class Meta:
        model = BraceLayout
        fields = [
            *("id", "branch", "survey", "outcome", "input_hash", "brace_count"),
            *("labour_minutes", "weight_lb", "cost_cents", "layout", "screening", "bill"),
            *("version", "created_at"),
        ]
        read_only_fields = fields
