"""Crews, people, vehicles and calendars over HTTP."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.utils import timezone
from rest_framework.response import Response

from contractor.api.access import EVERYONE, FIELD, OFFICE
from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.resources import Changes, Creates, Deletes
from contractor.crews.api import calendar_shapes, plan_shapes, shapes
from contractor.crews.models import Absence, Certificate, Crew, Holiday, Member, Vehicle
from contractor.crews.services import busy, calendars
from contractor.crews.services.busy import BusyDays

SHOW_ALL_CHANGE_OFFICE = {
    "list": EVERYONE,
    "export": EVERYONE,
    "retrieve": EVERYONE,
    "create": OFFICE,
    "partial_update": OFFICE,
    "destroy": OFFICE,
}


class VehicleViews(Exports, Creates, Changes, Deletes):
    queryset = Vehicle.objects.all()
    serializer_class = shapes.VehicleShape
    change_shape = shapes.ChangeVehicleShape
    branch_path = "branch"
    area = "crews"
    access = SHOW_ALL_CHANGE_OFFICE
    filterset_fields = ("branch",)


class CrewViews(Creates, Changes):
    queryset = Crew.objects.prefetch_related("members")
    serializer_class = shapes.CrewShape
    change_shape = shapes.ChangeCrewShape
    branch_path = "branch"
    area = "crews"
    access = {
        "list": EVERYONE,
        "retrieve": EVERYONE,
        "create": OFFICE,
        "partial_update": OFFICE,
        "calendar_feed": OFFICE,
        "revoke_feeds": OFFICE,
    }
    filterset_fields = ("branch", "is_active")
    seals_answers = True

    @command(
        body=plan_shapes.FeedShape,
        answer=plan_shapes.FeedLinkShape,
        status=201,
        if_match=False,
    )
    def calendar_feed(self, order: Order) -> Response:
        """Make a private calendar address of this crew; it is shown only here."""
        token = calendars.make_feed(order.row.pk, **order.values)
        return Response({"url": f"{settings.SITE_URL}/calendars/{token}.ics"}, status=201)

    @command(if_match=False)
    def revoke_feeds(self, order: Order) -> Crew:
        """Make every calendar address of this crew stop working."""
        calendars.revoke_feeds(order.row.pk, at=timezone.now())
        return Crew.objects.get(pk=order.row.pk)


def _read_calendar(view: Any, order: Order) -> BusyDays:
    """Read the posted calendar before any row is locked."""
    return busy.busy_days(
        order.values["text"],
        zone_name=order.row.branch.time_zone,
        first=order.values["first"],
        last=order.values["last"],
    )


class MemberViews(Exports, Creates, Changes):
    queryset = Member.objects.select_related("branch")
    serializer_class = shapes.MemberShape
    change_shape = shapes.ChangeMemberShape
    branch_path = "branch"
    area = "crews"
    access = {
        "list": FIELD,
        "export": FIELD,
        "retrieve": FIELD,
        "create": OFFICE,
        "partial_update": OFFICE,
        "import_busy": OFFICE,
    }
    filterset_fields = ("branch", "crew", "is_active")

    @command(
        body=calendar_shapes.ImportBusyShape,
        answer=calendar_shapes.BusyReadShape,
        if_match=False,
        compute=_read_calendar,
    )
    def import_busy(self, order: Order) -> Response:
        """Keep the busy times of the member's own calendar as absences."""
        days: BusyDays = order.computed
        rows = busy.keep_busy(order.row.pk, source=order.values["calendar"], days=days)
        return Response({"absences": [row.pk for row in rows], "notes": list(days.notes)})


class CertificateViews(Exports, Creates, Changes, Deletes):
    queryset = Certificate.objects.all()
    serializer_class = shapes.CertificateShape
    branch_path = "branch"
    area = "crews"
    access = SHOW_ALL_CHANGE_OFFICE
    filterset_fields = ("branch", "member", "skill")

    def create_row(self, values: dict[str, Any]) -> Certificate:
        row: Certificate = super().create_row({**values, "branch": values["member"].branch})
        return row


class HolidayViews(Exports, Creates, Changes, Deletes):
    queryset = Holiday.objects.all()
    serializer_class = shapes.HolidayShape
    branch_path = "branch"
    area = "crews"
    access = {**SHOW_ALL_CHANGE_OFFICE, "propose": OFFICE}
    ordering_fields = ("created_at", "day")
    filterset_fields = ("branch", "is_confirmed")

    @command(
        body=shapes.ProposeHolidaysShape,
        answer=shapes.ProposedHolidaysShape,
        detail=False,
        status=201,
    )
    def propose(self, order: Order) -> Response:
        """Propose the public holidays of a year; they count once somebody confirms them."""
        values = order.values
        rows = calendars.propose_holidays(
            values["branch"].pk, year=values["year"], subdivision=values.get("subdivision")
        )
        return Response({"results": self.write(shapes.HolidayShape, rows, many=True)}, status=201)


class AbsenceViews(Exports, Creates, Changes, Deletes):
    queryset = Absence.objects.all()
    serializer_class = shapes.AbsenceShape
    branch_path = "branch"
    area = "crews"
    access = SHOW_ALL_CHANGE_OFFICE
    filterset_fields = ("branch", "crew", "member")

    def create_row(self, values: dict[str, Any]) -> Absence:
        who = values.get("crew") or values["member"]
        row: Absence = super().create_row({**values, "branch": who.branch})
        return row
