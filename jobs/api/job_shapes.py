"""Shapes of jobs and what is done with them."""

from __future__ import annotations

from rest_framework import serializers

from contractor.api.fields import QuantityField, ScopedKeyField
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from jobs.models import Blackout, BraceLayout, EngineerRelease, Job, JobWall, Site, VisitRequest


class JobWallShape(StrictModelSerializer[JobWall]):
    class Meta:
        model = JobWall
        fields = ["wall", "layout"]
        read_only_fields = fields


class BlackoutShape(StrictModelSerializer[Blackout]):
    class Meta:
        model = Blackout
        fields = ["first", "last"]


class ReleaseShape(StrictModelSerializer[EngineerRelease]):
    torque = QuantityField("lbf ft", source="torque_lbf_ft", read_only=True)

    class Meta:
        model = EngineerRelease
        fields = [
            *("engineer", "licence", "released_on", "note", "torque", "entered_by", "created_at"),
        ]
        read_only_fields = fields


class WishesShape(StrictSerializer):
    """What the office may set when a job opens and later."""

    title = serializers.CharField(max_length=120)
    severity = serializers.IntegerField(min_value=1, max_value=4)
    due = serializers.DateField()
    skills = serializers.ListField(
        child=serializers.CharField(max_length=60), max_length=20, required=False
    )
    weekdays = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=6), min_length=1, required=False
    )
    min_crew_size = serializers.IntegerField(min_value=1, max_value=12, required=False)
    permit_release = serializers.DateField(required=False, allow_null=True)


class OpenJobShape(WishesShape):
    site = ScopedKeyField(Site.objects.all(), branch_path="branch")
    layouts = serializers.ListField(
        child=ScopedKeyField(BraceLayout.objects.all(), branch_path="branch"),
        min_length=1,
        max_length=40,
    )


class JobShape(StrictModelSerializer[Job]):
    walls = JobWallShape(many=True, read_only=True)
    blackouts = BlackoutShape(many=True, read_only=True)
    releases = ReleaseShape(many=True, read_only=True)

    class Meta:
        model = Job
        fields = [
            *("id", "branch", "site", "title", "status", "severity", "due", "labour_minutes"),
            *("weight_lb", "brace_count", "skills", "min_crew_size", "weekdays"),
            *("permit_release", "material_ready", "kit", "walls", "blackouts", "releases"),
            *("version", "created_at", "updated_at"),
        ]
        read_only_fields = fields


class EngineerReleaseShape(StrictSerializer):
    engineer = serializers.CharField(max_length=120)
    licence = serializers.CharField(max_length=60)
    released_on = serializers.DateField()
    note = serializers.CharField(max_length=4000, required=False, allow_blank=True, default="")
    torque = QuantityField(
        "lbf ft", source="torque_lbf_ft", minimum=0, required=False, allow_null=True
    )


class ChangeLayoutShape(StrictSerializer):
    layout = ScopedKeyField(BraceLayout.objects.all(), branch_path="branch")


class AskVisitShape(StrictSerializer):
    reason = serializers.ChoiceField(choices=["asked", "something_wrong", "measure"])
    detail = serializers.CharField(max_length=2000, allow_blank=True, default="")


class VisitRequestShape(StrictModelSerializer[VisitRequest]):
    class Meta:
        model = VisitRequest
        fields = [
            *("id", "branch", "job", "reason", "detail", "severity", "wanted_by", "status"),
            *("version", "created_at", "updated_at"),
        ]
        read_only_fields = fields


class FinishRequestShape(StrictSerializer):
    is_done = serializers.BooleanField()


class DayShape(StrictSerializer):
    on = serializers.DateField(required=False)


class EmptyShape(StrictSerializer):
    """No members."""


class LinkShape(serializers.Serializer[str]):
    url = serializers.URLField()
