"""The company and its branches."""

from __future__ import annotations

from typing import Any, ClassVar
from zoneinfo import available_timezones

from django.db import IntegrityError, transaction
from rest_framework import serializers

from contractor.api.access import EVERYONE, OWNERS
from contractor.api.company_settings import checks_for
from contractor.api.faults import validation_error
from contractor.api.fields import ScopedKeyField
from contractor.api.models import Branch, Company
from contractor.api.permissions import role_refusal
from contractor.api.resources import Changes, Creates
from contractor.api.serializers import StrictModelSerializer
from contractor.api.services.people import NameTakenError
from contractor.api.transactions import service
from contractor.engine.errors import InputError

MAX_SETTINGS_BYTES = 64 * 1024


class CompanySerializer(StrictModelSerializer[Company]):
    class Meta:
        model = Company
        fields = ["id", "name", "units", "settings", "version", "created_at", "updated_at"]
        read_only_fields = ["version"]

    def validate_settings(self, value: Any) -> dict[str, Any]:
        """Settings are an object; apps check the parts that they have registered."""
        if not isinstance(value, dict):
            raise serializers.ValidationError("Settings are not a JSON object.", code="not_object")
        if len(str(value)) > MAX_SETTINGS_BYTES:
            raise serializers.ValidationError("Settings are too long.", code="too_long")
        faults = {}
        for name, check in checks_for(value):
            try:
                check(value[name])
            except InputError as error:
                faults[name] = validation_error(error).detail
        if faults:
            raise serializers.ValidationError(faults)
        return value


class CompanyViewSet(Changes):
    """Companies that the caller works for (nearly always one)."""

    queryset = Company.objects.all()
    serializer_class = CompanySerializer
    company_path = "pk"
    area = "company"
    access: ClassVar = {"list": EVERYONE, "retrieve": EVERYONE, "partial_update": OWNERS}


class BranchSerializer(StrictModelSerializer[Branch]):
    company: Any = ScopedKeyField(Company.objects.all(), company_path="pk")
    latitude = serializers.FloatField(
        min_value=-90, max_value=90, required=False, allow_null=True, default=None
    )
    longitude = serializers.FloatField(
        min_value=-180, max_value=180, required=False, allow_null=True, default=None
    )

    class Meta:
        model = Branch
        fields = [
            "id",
            "company",
            "name",
            "time_zone",
            "latitude",
            "longitude",
            "version",
            "created_at",
            "updated_at",
        ]
        read_only_fields = ["version"]

    def validate_time_zone(self, value: str) -> str:
        if value not in available_timezones():
            raise serializers.ValidationError(
                "There is no such time zone in the IANA list.", code="unknown_time_zone"
            )
        return value


class BranchChangeSerializer(BranchSerializer):
    """A branch stays with its company."""

    class Meta(BranchSerializer.Meta):
        read_only_fields = ["version", "company"]

    company: Any = serializers.PrimaryKeyRelatedField(read_only=True)


class BranchesViewSet(Creates, Changes):
    """Branches where the caller holds a role."""

    queryset = Branch.objects.all()
    serializer_class = BranchSerializer
    change_shape = BranchChangeSerializer
    branch_path = "pk"
    area = "company"
    ordering_fields = ("name",)
    access: ClassVar = {
        "list": EVERYONE,
        "retrieve": EVERYONE,
        "create": OWNERS,
        "partial_update": OWNERS,
    }

    def create_row(self, values: dict[str, Any]) -> Branch:
        return open_branch(owner=self.who.user.pk, **values)

    def check_place(self, values: dict[str, Any]) -> None:
        """A new branch asks for an owner of the company, for the branch itself is not there."""
        if "company" in values and not self.who.roles_in_company(values["company"].pk) & OWNERS:
            raise role_refusal(OWNERS)


@service
def open_branch(*, owner: int, **values: Any) -> Branch:
    """Add a branch; the person who opens it owns it."""
    try:
        with transaction.atomic():
            branch = Branch.objects.create(**values)
    except IntegrityError as error:
        raise NameTakenError("The company has a branch of this name.") from error
    branch.memberships.create(user_id=owner, role="owner")
    return branch
