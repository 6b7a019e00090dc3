"""The shape of ``job-document/1``: a whole job that another installation can read.

The same shape writes and reads. Quantities are always in US units, so that no tick is lost.
"""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from contractor.api.faults import fault
from contractor.api.fields import InstantField, LengthField, QuantityField, ScopedKeyField
from contractor.api.models import Branch
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from jobs.api.job_shapes import BlackoutShape
from jobs.api.shapes import known_zone
from jobs.models import (
    BraceLayout,
    BraceRecord,
    CareLog,
    Consent,
    Customer,
    EngineerRelease,
    InstallRecord,
    Job,
    Reading,
    Reminder,
    Site,
    Survey,
    VisitRequest,
)
from jobs.services.documents import SCHEMA

ROWS_MOST = 5000


def torque(name: str) -> QuantityField:
    return QuantityField("lbf ft", source=name, minimum=0, allow_null=True)


def length(name: str, *, minimum: int | None = 0) -> LengthField:
    return LengthField(source=name, minimum=minimum, allow_null=True)


def rows(shape: type[Any], *, least: int = 0, most: int = ROWS_MOST) -> Any:
    """Return a bounded list of ``shape``."""
    return shape(many=True, allow_empty=least == 0, max_length=most)


class ConsentPart(StrictModelSerializer[Consent]):
    class Meta:
        model = Consent
        fields = [
            *("channel", "source", "granted_at", "revoked_at", "revoked_by"),
            *("is_stopped", "stopped_why"),
        ]
        validators: list[Any] = []


class CustomerPart(StrictModelSerializer[Customer]):
    consents = rows(ConsentPart, most=100)

    class Meta:
        model = Customer
        fields = ["reference", "name", "email", "phone", "language", "consents"]
        validators: list[Any] = []


class SitePart(StrictModelSerializer[Site]):
    class Meta:
        model = Site
        fields = [
            *("reference", "label", "address", "latitude", "longitude", "time_zone", "state"),
            "built_year",
        ]
        extra_kwargs = {
            "latitude": {"min_value": -90, "max_value": 90},
            "longitude": {"min_value": -180, "max_value": 180},
        }
        validators: list[Any] = []

    def validate_time_zone(self, value: str) -> str:
        return known_zone(value)


class SurveyPart(StrictModelSerializer[Survey]):
    document = serializers.DictField()

    class Meta:
        model = Survey
        fields = ["revision", "measured_on", "document"]
        validators: list[Any] = []


class LayoutPart(StrictSerializer):
    """Of which revision, by which engine; kept beside what the reader computes itself."""

    revision = serializers.IntegerField(min_value=1)
    engine = serializers.CharField(max_length=60)
    outcome = serializers.ChoiceField(choices=BraceLayout.Outcome.choices)
    layout = serializers.DictField()
    screening = serializers.DictField()
    bill = serializers.DictField()


class WallPart(StrictSerializer):
    wall = serializers.CharField(max_length=80)
    surveys = rows(SurveyPart, least=1, most=200)
    layout = LayoutPart()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        revisions = [survey["revision"] for survey in attrs["surveys"]]
        if revisions != sorted(set(revisions)):
            raise fault("The revisions do not rise.", code="invalid", below="/surveys")
        if attrs["layout"]["revision"] not in revisions:
            raise fault("No such revision.", code="does_not_exist", below="/layout/revision")
        return attrs


class ReleasePart(StrictModelSerializer[EngineerRelease]):
    torque = torque("torque_lbf_ft")

    class Meta:
        model = EngineerRelease
        fields = ["engineer", "licence", "released_on", "torque", "note"]


class JobPart(StrictModelSerializer[Job]):
    skills = serializers.ListField(child=serializers.CharField(max_length=60), max_length=20)
    weekdays = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=6), min_length=1, max_length=7
    )
    blackouts = rows(BlackoutShape, most=500)
    releases = rows(ReleasePart, most=100)

    class Meta:
        model = Job
        fields = [
            *("title", "status", "severity", "due", "skills", "weekdays", "min_crew_size"),
            *("permit_release", "blackouts", "releases"),
        ]
        extra_kwargs = {
            "severity": {"min_value": 1, "max_value": 4},
            "min_crew_size": {"min_value": 1, "max_value": 12},
        }


class BracePart(StrictModelSerializer[BraceRecord]):
    planned_height = LengthField(source="planned_height_ticks", positive=True)
    torque_limit = QuantityField("lbf ft", source="torque_limit_lbf_ft", minimum=0)
    measured_height = length("measured_height_ticks")
    torque = torque("torque_lbf_ft")
    out_of_plumb = length("out_of_plumb_ticks")
    skipped = serializers.DictField(child=serializers.CharField(max_length=200))

    class Meta:
        model = BraceRecord
        fields = [
            *("wall", "mark", "planned_height", "measured_height", "torque_limit", "torque"),
            *("tool", "anchors_wanted", "anchors_set", "needs_seal", "is_sealed"),
            *("out_of_plumb", "label_date", "skipped", "note", "recorded_at"),
        ]
        validators: list[Any] = []


class InstallPart(StrictModelSerializer[InstallRecord]):
    checklist = serializers.DictField(child=serializers.BooleanField())
    left_with_homeowner = serializers.ListField(
        child=serializers.CharField(max_length=120), max_length=40
    )
    braces = rows(BracePart, most=1000)

    class Meta:
        model = InstallRecord
        fields = [
            *("status", "started_on", "installed_on", "checklist", "left_with_homeowner"),
            *("signed_off_by", "braces"),
        ]


class ReadingPart(StrictModelSerializer[Reading]):
    at = length("at_ticks")
    height = length("height_ticks")
    value = length("value_ticks", minimum=None)
    torque = torque("torque_lbf_ft")
    resolution = length("resolution_ticks")

    class Meta:
        model = Reading
        fields = [
            *("wall", "kind", "mark", "at", "height", "value", "torque", "measured_on"),
            *("instrument", "resolution", "source", "doubt"),
        ]
        validators: list[Any] = []

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        is_torque = attrs["kind"] == Reading.Kind.TORQUE
        place = [attrs[name] is not None for name in ("at_ticks", "height_ticks", "value_ticks")]
        if is_torque != (attrs["torque_lbf_ft"] is not None) or is_torque == any(place):
            raise fault("A torque, or a value at a place: which its kind says.", code="other_kind")
        if not is_torque and not all(place):
            raise fault("A reading of this kind needs at, height and value.", code="other_kind")
        return attrs


class ReminderPart(StrictModelSerializer[Reminder]):
    class Meta:
        model = Reminder
        fields = ["kind", "due_on", "reason", "status", "channel", "sent_at", "outcome"]
        validators: list[Any] = []


class SettledReminderPart(StrictModelSerializer[Reminder]):
    class Meta:
        model = Reminder
        fields = ["kind", "due_on"]
        validators: list[Any] = []


class CarePart(StrictModelSerializer[CareLog]):
    reminder = SettledReminderPart(allow_null=True)

    class Meta:
        model = CareLog
        fields = ["outcome", "note", "logged_at", "reminder"]


class VisitRequestPart(StrictModelSerializer[VisitRequest]):
    class Meta:
        model = VisitRequest
        fields = ["reason", "detail", "severity", "wanted_by", "status"]
        extra_kwargs = {"severity": {"min_value": 1, "max_value": 4}}
        validators: list[Any] = []


class JobDocumentShape(StrictSerializer):
    """``job-document/1``. Photos, stock, visits and secret links do not travel."""

    schema = serializers.ChoiceField(choices=[SCHEMA])
    key = serializers.UUIDField()
    exported_at = InstantField()
    engine = serializers.CharField(max_length=60)
    customer = CustomerPart()
    site = SitePart()
    walls = rows(WallPart, least=1, most=40)
    job = JobPart()
    install = InstallPart(allow_null=True)
    readings = rows(ReadingPart)
    reminders = rows(ReminderPart)
    care_logs = rows(CarePart)
    visit_requests = rows(VisitRequestPart)


class ImportJobShape(StrictSerializer):
    """``keep_consent``: only where the homeowner agreed with this very company."""

    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    document = JobDocumentShape()
    keep_consent = serializers.BooleanField(default=False)


class ImportStepShape(serializers.Serializer[Any]):
    part = serializers.CharField()
    fate = serializers.ChoiceField(
        choices=[
            *("created", "unchanged", "recomputed", "kept_as_record", "changed", "left_out"),
        ]
    )
    count = serializers.IntegerField()
    detail = serializers.CharField()


class ImportedJobShape(serializers.Serializer[Any]):
    """``job`` is null in a dry run of a new job: there is no such row yet."""

    is_stored = serializers.BooleanField()
    fate = serializers.ChoiceField(choices=["created", "unchanged"])
    job = serializers.IntegerField(allow_null=True)
    steps = ImportStepShape(many=True)
