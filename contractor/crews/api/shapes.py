"""Shapes of crews, people, vehicles and calendars."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from contractor.api.fields import QuantityField, ScopedKeyField
from contractor.api.models import Branch
from contractor.api.one_branch import same_branch
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.crews.models import Absence, Certificate, Crew, Holiday, Member, Vehicle
from contractor.engine.calendars.holiday_proposals import US_PLACES

STAMPS = ("version", "created_at", "updated_at")


def fixed_branch() -> serializers.PrimaryKeyRelatedField[Branch]:
    return serializers.PrimaryKeyRelatedField(read_only=True)


class VehicleShape(StrictModelSerializer[Vehicle]):
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    payload = QuantityField("lb", source="payload_lb", minimum=0)

    class Meta:
        model = Vehicle
        fields = ["id", "branch", "name", "payload", *STAMPS]
        read_only_fields = ["id", *STAMPS]


class ChangeVehicleShape(VehicleShape):
    """A vehicle stays at its branch; crews drive it."""

    branch = fixed_branch()  # type: ignore[assignment]


class CrewShape(StrictModelSerializer[Crew]):
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    vehicle = ScopedKeyField(
        Vehicle.objects.all(), branch_path="branch", required=False, allow_null=True
    )

    class Meta:
        model = Crew
        fields = ["id", "branch", "name", "pace", "vehicle", "is_active", "members", *STAMPS]
        read_only_fields = ["id", "members", *STAMPS]
        extra_kwargs = {"pace": {"min_value": 0.1, "max_value": 5}}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return same_branch(attrs, self.instance, ("vehicle",))


class ChangeCrewShape(CrewShape):
    """A crew stays at its branch."""

    branch = fixed_branch()  # type: ignore[assignment]


class MemberShape(StrictModelSerializer[Member]):
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    crew = ScopedKeyField(Crew.objects.all(), branch_path="branch", required=False, allow_null=True)

    class Meta:
        model = Member
        fields = ["id", "branch", "crew", "name", "is_active", *STAMPS]
        read_only_fields = ["id", *STAMPS]

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return same_branch(attrs, self.instance, ("crew",))


class ChangeMemberShape(MemberShape):
    """A member stays at its branch."""

    branch = fixed_branch()  # type: ignore[assignment]


class CertificateShape(StrictModelSerializer[Certificate]):
    member = ScopedKeyField(Member.objects.all(), branch_path="branch")

    class Meta:
        model = Certificate
        fields = ["id", "branch", "member", "skill", "valid_from", "valid_to", *STAMPS]
        read_only_fields = ["id", "branch", *STAMPS]

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        same_branch(attrs, self.instance, ("member",))
        return ends_after_start(attrs, "valid_from", "valid_to", self.instance)


class HolidayShape(StrictModelSerializer[Holiday]):
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")

    class Meta:
        model = Holiday
        fields = ["id", "branch", "day", "name", "is_confirmed", *STAMPS]
        read_only_fields = ["id", *STAMPS]


@extend_schema_field({"type": "string", "enum": [*US_PLACES, None]})
class USPlaceField(serializers.CharField):
    """A state, district or territory of the United States, or null."""


class ProposeHolidaysShape(StrictSerializer):
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    year = serializers.IntegerField(min_value=2000, max_value=2100)
    subdivision = USPlaceField(required=False, allow_null=True)


class ProposedHolidaysShape(StrictSerializer):
    results = HolidayShape(many=True)


class AbsenceShape(StrictModelSerializer[Absence]):
    crew = ScopedKeyField(Crew.objects.all(), branch_path="branch", required=False, allow_null=True)
    member = ScopedKeyField(
        Member.objects.all(), branch_path="branch", required=False, allow_null=True
    )

    class Meta:
        model = Absence
        fields = [
            *("id", "branch", "crew", "member", "first", "last", "half", "reason", "source"),
            *STAMPS,
        ]
        read_only_fields = ["id", "branch", "source", *STAMPS]

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        merged = {
            name: attrs.get(name, getattr(self.instance, name, None)) for name in ("crew", "member")
        }
        if (merged["crew"] is None) == (merged["member"] is None):
            raise serializers.ValidationError(
                {"crew": ["Name a crew or a member, not both."]}, code="choose_one"
            )
        same_branch(attrs, self.instance, ("crew", "member"))
        return ends_after_start(attrs, "first", "last", self.instance)


def ends_after_start(attrs: dict[str, Any], first: str, last: str, row: Any) -> dict[str, Any]:
    """Return ``attrs`` unless the span they leave behind ends before it starts."""
    start = attrs.get(first, getattr(row, first, None))
    end = attrs.get(last, getattr(row, last, None))
    if start is not None and end is not None and end < start:
        raise serializers.ValidationError({last: [f"It is before {first}."]}, code="too_early")
    return attrs
