"""Shapes of photos."""

from __future__ import annotations

from django.db.models import Model
from rest_framework import serializers

from contractor.api.fields import ScopedKeyField
from contractor.api.import_cells import key_of
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from jobs.models import BraceRecord, Photo


class FormKeyField(ScopedKeyField):
    """A key in a form, where numbers are texts."""

    def to_internal_value(self, data: object) -> Model:
        return super().to_internal_value(key_of(str(data)))


class AddPhotoShape(StrictSerializer):
    """A photo as a form (multipart/form-data), of one of the braces or of the wall."""

    file = serializers.FileField()
    brace = FormKeyField(BraceRecord.objects.all(), branch_path="install__branch", required=False)


class PhotoShape(StrictModelSerializer[Photo]):
    """``taken_at`` is what the camera said; ``file`` and ``thumbnail`` are where to get it."""

    file = serializers.SerializerMethodField()
    thumbnail = serializers.SerializerMethodField()

    class Meta:
        model = Photo
        fields = ["id", "install", "brace", "file", "thumbnail", "source", "taken_at", "created_at"]
        read_only_fields = fields

    def get_file(self, row: Photo) -> str:
        return f"/api/v1/photos/{row.pk}/file"

    def get_thumbnail(self, row: Photo) -> str:
        return f"/api/v1/photos/{row.pk}/thumbnail"
