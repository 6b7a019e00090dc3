"""Install records, reminders and readings over HTTP."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.access import EVERYONE, FIELD, OFFICE, for_user
from contractor.api.bulk import BulkCreates
from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.resources import Changes
from contractor.api.views import ApiView
from contractor.errors import NotFoundError
from jobs.api import record_shapes
from jobs.api.photo_views import PHOTO_ACCESS, PhotoActions
from jobs.models import BraceRecord, InstallRecord, Reading, Reminder, Site
from jobs.services import installs, readings, sending


class InstallViews(PhotoActions, Exports):
    queryset = InstallRecord.objects.prefetch_related("braces")
    serializer_class = record_shapes.InstallShape
    branch_path = "branch"
    area = "jobs"
    access = {
        "list": EVERYONE,
        "export": EVERYONE,
        "retrieve": EVERYONE,
        "close": FIELD,
        **PHOTO_ACCESS,
    }
    filterset_fields = ("branch", "job", "status")

    @command(body=record_shapes.CloseInstallShape)
    def close(self, order: Order) -> InstallRecord:
        """Close a complete record: the job is installed, the reminders get their dates.

        Every mark of the survey needs a reading of kind bow since the install began; 409 names
        the others (zero_reading_missing) unless no_zero_reading says why there is none.
        """
        return installs.close_install(order.row.pk, if_match=order.if_match, **order.values)


class BraceRecordViews(Exports, Changes):
    queryset = BraceRecord.objects.select_related("install")
    serializer_class = record_shapes.BraceRecordShape
    branch_path = "install__branch"
    area = "jobs"
    default_ordering = "-created_at"
    access = {"list": EVERYONE, "export": EVERYONE, "retrieve": EVERYONE, "partial_update": FIELD}
    filterset_fields = ("install",)

    def change_row(
        self, row: BraceRecord, values: dict[str, Any], if_match: int | None
    ) -> BraceRecord:
        return installs.record_brace(row.pk, at=timezone.now(), if_match=if_match, **values)


class ReminderViews(Exports):
    queryset = Reminder.objects.all()
    serializer_class = record_shapes.ReminderShape
    branch_path = "branch"
    area = "jobs"
    ordering_fields = ("created_at", "due_on")
    access = {"list": EVERYONE, "export": EVERYONE, "retrieve": EVERYONE, "resolve": OFFICE}
    filterset_fields = ("branch", "job", "status", "kind")

    @command(body=record_shapes.ResolveShape)
    def resolve(self, order: Order) -> Reminder:
        """A person looked whether an unknown message arrived."""
        return sending.resolve_unknown(order.row.pk, if_match=order.if_match, **order.values)


class ReadingViews(BulkCreates, Exports):
    queryset = Reading.objects.all()
    serializer_class = record_shapes.ReadingShape
    create_shape = record_shapes.ReadingOfWallShape
    branch_path = "branch"
    area = "jobs"
    ordering_fields = ("created_at", "measured_on")
    access = {
        "list": EVERYONE,
        "export": EVERYONE,
        "retrieve": EVERYONE,
        "create": FIELD,
        "bulk": FIELD,
        "settle": OFFICE,
    }
    filterset_fields = ("branch", "site", "wall", "kind")

    @command(body=record_shapes.SettleDoubtShape)
    def settle(self, order: Order) -> Any:
        """A doubted reading counts from now on, or is taken out (204)."""
        row = readings.settle_doubt(order.row.pk, if_match=order.if_match, **order.values)
        return row if order.values["is_right"] else Response(status=204)

    def check_place(self, values: dict[str, Any]) -> None:
        super().check_place({"branch": values["site"].branch})

    def create_row(self, values: dict[str, Any]) -> Reading:
        site, wall = values.pop("site"), values.pop("wall")
        readings.wall_of(site, wall)
        return readings.add_readings(site_pk=site.pk, wall=wall, rows=[values], source="office")[0]

    @extend_schema(
        request=record_shapes.AddReadingsShape, responses={201: record_shapes.ReadingsShape}
    )
    def create(self, request: Request) -> Response:
        """Add readings of one wall, all or none; the movement engine looks at once."""
        values = self.read(record_shapes.AddReadingsShape)
        site, wall = values["site"], values["wall"]
        self.check_place(values)
        readings.wall_of(site, wall)
        rows = readings.add_readings(
            site_pk=site.pk, wall=wall, rows=values["readings"], source="office"
        )
        answer = {
            "readings": self.write(record_shapes.ReadingShape, rows, many=True),
            "movement": readings.movement_of(site, wall, self.units),
        }
        return Response(answer, status=201)


class MovementView(ApiView):
    """Is the wall coming back? ``?site=`` and ``?wall=``."""

    area = "jobs"
    access = {"get": EVERYONE}
    query_parameters = frozenset({"site", "wall"})

    @extend_schema(
        parameters=[
            OpenApiParameter("site", int, required=True),
            OpenApiParameter("wall", str, required=True),
        ],
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request) -> Response:
        """The ``movement-verdict/1`` document of a wall."""
        key = request.query_params.get("site", "")
        sites = for_user(Site.objects.all(), self.who, branch_path="branch")
        site = sites.filter(pk=int(key)).first() if key.isdecimal() and len(key) < 19 else None
        verdict = site and readings.movement_of(
            site, request.query_params.get("wall", ""), self.units
        )
        if verdict is None:
            raise NotFoundError(
                "There are no readings of such a wall.",
                remedy="Name a site and a wall that has readings.",
            )
        return Response(verdict)
