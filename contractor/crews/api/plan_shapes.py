"""Shapes of crew plans and visits."""

from __future__ import annotations

from rest_framework import serializers

from contractor.api.fields import ScopedKeyField
from contractor.api.models import Branch
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.crews.models import CrewPlan, Visit
from jobs.models import Job


class RequestPlanShape(StrictSerializer):
    """``jobs``: refuse at once if one of these cannot be planned by anybody.

    ``mode`` says how open visits are brought in line with what happened, ``cause`` why you ask.
    """

    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    first_day = serializers.DateField()
    last_day = serializers.DateField()
    seconds = serializers.FloatField(min_value=0.5, max_value=120, default=10)
    seed = serializers.IntegerField(min_value=0, max_value=2_000_000_000, default=1)
    mode = serializers.ChoiceField(choices=CrewPlan.Mode.choices, default=CrewPlan.Mode.PENALTY)
    cause = serializers.CharField(max_length=200, allow_blank=True, default="")
    jobs = serializers.ListField(
        child=ScopedKeyField(Job.objects.select_related("branch__company"), branch_path="branch"),
        required=False,
        max_length=100,
    )


LINE = (
    *("id", "branch", "status", "mode", "cause", "today", "first_day", "last_day", "seconds"),
    *("seed", "progress", "cost", "bound", "is_proven", "failure", "version", "created_at"),
    "updated_at",
)


class CrewPlanLineShape(StrictModelSerializer[CrewPlan]):
    """A crew plan in a list: without its documents."""

    progress = serializers.JSONField(read_only=True)

    class Meta:
        model = CrewPlan
        fields = [*LINE]
        read_only_fields = fields


class CrewPlanShape(StrictModelSerializer[CrewPlan]):
    """``plan`` is an ``install-plan/1``, made from ``instance``, an ``install-sched/1``.

    ``report``: the ``events`` since the plan in force; changes to ``confirmed`` and, apart, to
    ``tentative`` visits with the cause of each; jobs ``added`` and ``untouched``; visits
    ``standing`` (started, or outside these days); jobs ``left_out`` with the reason.
    """

    instance = serializers.JSONField(read_only=True)  # type: ignore[assignment]
    plan = serializers.JSONField(read_only=True)
    report = serializers.JSONField(read_only=True)
    progress = serializers.JSONField(read_only=True)

    class Meta:
        model = CrewPlan
        fields = [*LINE, "input_hash", "instance", "plan", "report"]
        read_only_fields = fields


class VisitShape(StrictModelSerializer[Visit]):
    class Meta:
        model = Visit
        fields = [
            *("id", "branch", "job", "plan", "crew", "status", "date", "half", "half_days"),
            *("last_date", "last_half", "uid", "sequence", "version", "created_at"),
            "updated_at",
        ]
        read_only_fields = fields


class FeedShape(StrictSerializer):
    shows_addresses = serializers.BooleanField(default=False)


class FeedLinkShape(serializers.Serializer[str]):
    url = serializers.URLField()
