"""Shapes of install records, reminders and readings."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from contractor.api.fields import LengthField, QuantityField, ScopedKeyField
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from jobs.models import BraceRecord, InstallRecord, Reading, Reminder, Site
from jobs.services.installs import missing_in


class BraceRecordShape(StrictModelSerializer[BraceRecord]):
    planned_height = LengthField(source="planned_height_ticks", read_only=True)
    torque_limit = QuantityField("lbf ft", source="torque_limit_lbf_ft", read_only=True)
    measured_height = LengthField(source="measured_height_ticks", positive=True, required=False)
    torque = QuantityField("lbf ft", source="torque_lbf_ft", minimum=0, required=False)
    out_of_plumb = LengthField(source="out_of_plumb_ticks", required=False)
    skipped = serializers.DictField(child=serializers.CharField(max_length=200), required=False)
    missing = serializers.SerializerMethodField()

    class Meta:
        model = BraceRecord
        fields = [
            *("id", "install", "wall", "mark", "planned_height", "measured_height"),
            *("torque_limit", "torque", "tool", "anchors_wanted", "anchors_set", "needs_seal"),
            *("is_sealed", "out_of_plumb", "label_date", "skipped", "note", "missing"),
            *("recorded_at", "version"),
        ]
        read_only_fields = [
            *("id", "install", "wall", "mark", "anchors_wanted", "needs_seal", "recorded_at"),
            "version",
        ]

    def get_missing(self, row: BraceRecord) -> list[str]:
        return missing_in(row)


class InstallShape(StrictModelSerializer[InstallRecord]):
    braces = BraceRecordShape(many=True, read_only=True)

    class Meta:
        model = InstallRecord
        fields = [
            *("id", "branch", "job", "status", "started_on", "installed_on", "checklist"),
            *("left_with_homeowner", "signed_off_by", "braces", "version", "created_at"),
            "updated_at",
        ]
        read_only_fields = fields


class CloseInstallShape(StrictSerializer):
    installed_on = serializers.DateField()
    checklist = serializers.DictField(child=serializers.BooleanField())
    left_with_homeowner = serializers.ListField(
        child=serializers.CharField(max_length=120), max_length=40
    )
    signed_off_by = serializers.CharField(max_length=120)
    no_zero_reading = serializers.CharField(
        max_length=200,
        required=False,
        help_text="Why marks of the survey have no reading of kind bow since the install began.",
    )


class ReminderShape(StrictModelSerializer[Reminder]):
    class Meta:
        model = Reminder
        fields = [
            *("id", "branch", "job", "kind", "due_on", "reason", "status", "not_before"),
            *("channel", "attempts", "sent_at", "outcome", "version", "created_at"),
        ]
        read_only_fields = fields


class ResolveShape(StrictSerializer):
    was_sent = serializers.BooleanField()


class ReadingRowShape(StrictSerializer):
    """One reading: ``inward`` (bow) or ``crack_width`` at a place, or ``torque`` of a brace."""

    kind = serializers.ChoiceField(choices=Reading.Kind.choices)
    measured_on = serializers.DateField()
    at = LengthField(source="at_ticks", required=False)
    height = LengthField(source="height_ticks", required=False)
    value = LengthField(source="value_ticks", minimum=None, required=False)
    torque = QuantityField("lbf ft", source="torque_lbf_ft", minimum=0, required=False)
    mark = serializers.CharField(max_length=12, required=False)
    instrument = serializers.CharField(max_length=80, required=False, allow_blank=True)
    resolution = LengthField(source="resolution_ticks", positive=True, required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        is_torque = attrs["kind"] == Reading.Kind.TORQUE
        place = {"at_ticks", "height_ticks", "value_ticks"}
        wanted = {"torque_lbf_ft", "mark"} if is_torque else place
        unwanted = place if is_torque else {"torque_lbf_ft"}
        names = {
            "at_ticks": "at",
            "height_ticks": "height",
            "value_ticks": "value",
            "torque_lbf_ft": "torque",
        }
        faults = {names.get(n, n): ["This reading needs it."] for n in wanted - attrs.keys()}
        faults |= {names.get(n, n): ["Not of this kind."] for n in unwanted & attrs.keys()}
        if faults:
            raise serializers.ValidationError(dict(sorted(faults.items())), code="other_kind")
        return attrs


class AddReadingsShape(StrictSerializer):
    site = ScopedKeyField(Site.objects.all(), branch_path="branch")
    wall = serializers.CharField(max_length=80)
    readings = serializers.ListField(child=ReadingRowShape(), min_length=1, max_length=200)


class ReadingOfWallShape(ReadingRowShape):
    """A reading by itself: it names its wall."""

    site = ScopedKeyField(Site.objects.all(), branch_path="branch")
    wall = serializers.CharField(max_length=80)


class ReadingShape(StrictModelSerializer[Reading]):
    at = LengthField(source="at_ticks", read_only=True)
    height = LengthField(source="height_ticks", read_only=True)
    value = LengthField(source="value_ticks", read_only=True)
    torque = QuantityField("lbf ft", source="torque_lbf_ft", read_only=True)
    resolution = LengthField(source="resolution_ticks", read_only=True)

    class Meta:
        model = Reading
        fields = [
            *("id", "branch", "site", "wall", "kind", "mark", "at", "height", "value", "torque"),
            *("measured_on", "instrument", "resolution", "source", "doubt", "version"),
            "created_at",
        ]
        read_only_fields = fields


class SettleDoubtShape(StrictSerializer):
    is_right = serializers.BooleanField()


class ReadingsShape(serializers.Serializer[dict[str, Any]]):
    """Answer to new readings: the rows, and what the movement engine makes of the wall."""

    readings = ReadingShape(many=True)
    movement = serializers.JSONField(allow_null=True)
