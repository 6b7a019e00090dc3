"""Shapes of calendar feeds, outside calendars and pins."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework import serializers

from contractor.api.fields import ScopedKeyField
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.crews.models import CalendarFeed, Crew, Member, Pin
from jobs.models import Job

MOST_ICS = 1_000_000  # characters; the body limit of the server is 2 MiB


class CalendarFeedShape(StrictModelSerializer[CalendarFeed]):
    class Meta:
        model = CalendarFeed
        fields = [
            *("id", "branch", "crew", "member", "job", "shows_addresses", "created_at"),
            *("revoked_at", "last_used_at"),
        ]
        read_only_fields = fields


class NewCalendarFeedShape(StrictSerializer):
    """Name one of crew, member and job."""

    crew = ScopedKeyField(Crew.objects.all(), branch_path="branch", required=False)
    member = ScopedKeyField(Member.objects.all(), branch_path="branch", required=False)
    job = ScopedKeyField(Job.objects.all(), branch_path="branch", required=False)
    shows_addresses = serializers.BooleanField(default=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if sum(name in attrs for name in ("crew", "member", "job")) != 1:
            raise serializers.ValidationError(
                {"crew": ["Name a crew, a member or a job."]}, code="choose_one"
            )
        return attrs


class MadeCalendarFeedShape(CalendarFeedShape):
    """``url`` holds the secret; it is shown only when the feed is made."""

    url = serializers.URLField(read_only=True)

    class Meta(CalendarFeedShape.Meta):
        fields = [*CalendarFeedShape.Meta.fields, "url"]
        read_only_fields = fields


class ImportBusyShape(StrictSerializer):
    """``text`` is a whole iCalendar file; what came from the same named calendar goes."""

    calendar = serializers.CharField(max_length=80)
    text = serializers.CharField(max_length=MOST_ICS, trim_whitespace=False)
    first = serializers.DateField(required=False)
    last = serializers.DateField(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        first = attrs.setdefault("first", timezone.localdate())
        attrs.setdefault("last", first + timedelta(days=180))
        return attrs


class BusyReadShape(StrictSerializer):
    absences = serializers.ListField(child=serializers.IntegerField())
    notes = serializers.ListField(child=serializers.CharField())


class PinShape(StrictModelSerializer[Pin]):
    """The office's decision that a job stays with a crew, on a day, or both."""

    job = ScopedKeyField(Job.objects.all(), branch_path="branch")
    crew = ScopedKeyField(Crew.objects.all(), branch_path="branch", required=False, allow_null=True)

    class Meta:
        model = Pin
        fields = [
            *("id", "branch", "job", "crew", "date", "half", "owner", "reason"),
            *("version", "created_at", "updated_at"),
        ]
        read_only_fields = ["id", "branch", "owner", "version", "created_at", "updated_at"]

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs.get("crew") is None and attrs.get("date") is None:
            raise serializers.ValidationError(
                {"crew": ["Name a crew, a date or both."]}, code="choose_one"
            )
        if attrs.get("half") and attrs.get("date") is None:
            raise serializers.ValidationError({"half": ["A half needs its date."]}, code="alone")
        return attrs
