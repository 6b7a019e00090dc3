"""Shapes of service windows, service plans and service visits."""

from __future__ import annotations

from rest_framework import serializers

from contractor.api.fields import ScopedKeyField
from contractor.api.models import Branch
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.crews.models import ServicePlan, ServiceVisit, ServiceWindow
from jobs.models import VisitRequest


class ServiceWindowShape(StrictModelSerializer[ServiceWindow]):
    """Wall-clock times at the branch; work starts from ``opens`` to ``closes``."""

    request = ScopedKeyField(VisitRequest.objects.all(), branch_path="branch")

    class Meta:
        model = ServiceWindow
        fields = [
            *("id", "branch", "request", "day", "opens", "closes"),
            *("version", "created_at", "updated_at"),
        ]
        read_only_fields = ["id", "branch", "version", "created_at", "updated_at"]
        validators: list[object] = []


class RequestServicePlanShape(StrictSerializer):
    branch = ScopedKeyField(Branch.objects.select_related("company"), branch_path="pk")
    first_day = serializers.DateField()
    last_day = serializers.DateField()
    seconds = serializers.FloatField(min_value=0.5, max_value=120, default=5)
    seed = serializers.IntegerField(min_value=0, max_value=2_000_000_000, default=1)
    cause = serializers.CharField(max_length=200, allow_blank=True, default="")


LINE = (
    *("id", "branch", "status", "cause", "today", "first_day", "last_day", "seconds", "seed"),
    *("progress", "cost", "failure", "version", "created_at", "updated_at"),
)


class ServicePlanLineShape(StrictModelSerializer[ServicePlan]):
    """A service plan in a list: without its documents."""

    progress = serializers.JSONField(read_only=True)

    class Meta:
        model = ServicePlan
        fields = [*LINE]
        read_only_fields = fields


class ServicePlanShape(StrictModelSerializer[ServicePlan]):
    """``plan`` is a ``visit-plan/1``, made from ``instance``, a ``service-visits/1``."""

    instance = serializers.JSONField(read_only=True)  # type: ignore[assignment]
    plan = serializers.JSONField(read_only=True)
    report = serializers.JSONField(read_only=True)
    progress = serializers.JSONField(read_only=True)

    class Meta:
        model = ServicePlan
        fields = [*LINE, "input_hash", "instance", "plan", "report"]
        read_only_fields = fields


class ServiceVisitShape(StrictModelSerializer[ServiceVisit]):
    class Meta:
        model = ServiceVisit
        fields = [
            *("id", "branch", "request", "plan", "member", "status", "date", "leaves", "starts"),
            *("finishes", "returns", "uid", "sequence", "version", "created_at", "updated_at"),
        ]
        read_only_fields = fields
