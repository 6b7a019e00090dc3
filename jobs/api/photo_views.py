"""Photos of an install over HTTP: taken in, listed, given out to people of the branch only."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

from django.db.models.fields.files import FieldFile
from django.http import FileResponse
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.access import FIELD
from contractor.api.commands import Order, Steps
from contractor.api.faults import fault
from contractor.api.resources import PAGING, BranchViewSet
from contractor.errors import NotFoundError
from jobs.api.photo_shapes import AddPhotoShape, PhotoShape
from jobs.models import Photo
from jobs.services import photos

PHOTO_ACCESS = {"add_photo": FIELD, "photos": FIELD}


def _read_photo(view: Any, request: Request) -> Order:
    """Decode the picture before the transaction of the POST."""
    install = view.get_object()
    values = view.read(AddPhotoShape)
    brace, upload = values.get("brace"), values["file"]
    if brace is not None and brace.install_id != install.pk:
        raise fault("A brace of another install.", code="does_not_exist", below="/brace")
    picture = photos.read_picture(upload, upload.size, install.job.site.time_zone)
    return Order(install, values, None, picture)


def _keep_photo(view: Any, order: Order) -> Response:
    brace = order.values.get("brace")
    photo = photos.add_photo(
        order.row.pk, picture=order.computed, brace_pk=brace and brace.pk, source="office"
    )
    answer: Response = view.answer(photo, status=201, shape=PhotoShape)
    return answer


class PhotoActions(BranchViewSet):
    """Mixed into the views of install records; ``access`` there takes PHOTO_ACCESS in."""

    def known_parameters(self) -> Set[str]:
        known = super().known_parameters()
        return known | (PAGING - {"ordering"}) if self.action == "photos" else known

    @extend_schema(request=AddPhotoShape, responses={201: PhotoShape})
    @action(detail=True, methods=["post"], url_path="photos", parser_classes=[MultiPartParser])
    def add_photo(self, request: Request, pk: str) -> Response:
        """Keep a JPEG, PNG or WebP up to 10 MB; where it was taken is removed from it."""
        return _keep_photo(self, _read_photo(self, request))

    add_photo.steps = Steps(_read_photo, _keep_photo)  # type: ignore[attr-defined]

    @extend_schema(responses=PhotoShape(many=True), filters=False)
    @add_photo.mapping.get
    def photos(self, request: Request, pk: str) -> Response:
        """The photos of this install, newest first."""
        page = self.paginate_queryset(self.get_object().photos.all())
        return self.get_paginated_response(self.write(PhotoShape, page, many=True))


class PhotoViews(BranchViewSet):
    queryset = Photo.objects.select_related("install")
    serializer_class = PhotoShape
    branch_path = "install__branch"
    area = "jobs"
    access = {"list": FIELD, "retrieve": FIELD, "file": FIELD, "thumbnail": FIELD}
    filterset_fields = ("install", "brace", "source")

    @extend_schema(responses={(200, "image/jpeg"): bytes})
    @action(detail=True)
    def file(self, request: Request, pk: str) -> FileResponse:
        """The photo: a JPEG of at most 2560 pixels a side."""
        photo = self.get_object()
        return _shown(photo, photo.file)

    @extend_schema(responses={(200, "image/jpeg"): bytes})
    @action(detail=True)
    def thumbnail(self, request: Request, pk: str) -> FileResponse:
        """The photo at no more than 320 pixels a side."""
        photo = self.get_object()
        return _shown(photo, photo.thumbnail)


def _shown(photo: Photo, file: FieldFile) -> FileResponse:
    try:
        content = file.open("rb")
    except FileNotFoundError as error:
        raise NotFoundError("The file of this photo is gone.", remedy="Take it again.") from error
    return FileResponse(
        content,
        filename=f"photo-{photo.pk}.jpg",
        content_type="image/jpeg",
        headers={"Cache-Control": "private, no-store"},
    )
