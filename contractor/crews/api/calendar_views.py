"""Calendar feeds and pins over HTTP."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.utils import timezone

from contractor.api.access import EVERYONE, OFFICE
from contractor.api.commands import Order, command
from contractor.api.resources import Creates, Deletes
from contractor.crews.api import calendar_shapes
from contractor.crews.models import CalendarFeed, Pin
from contractor.crews.services import calendars, pins


class CalendarFeedViews(Creates):
    queryset = CalendarFeed.objects.all()
    serializer_class = calendar_shapes.CalendarFeedShape
    create_shape = calendar_shapes.NewCalendarFeedShape
    created_shape = calendar_shapes.MadeCalendarFeedShape
    branch_path = "branch"
    area = "crews"
    access = {"list": OFFICE, "retrieve": OFFICE, "create": OFFICE, "revoke": OFFICE}
    filterset_fields = ("branch", "crew", "member", "job")
    seals_answers = True

    def check_place(self, values: dict[str, Any]) -> None:
        whose = values.get("crew") or values.get("member") or values.get("job")
        super().check_place({"branch": whose.branch} if whose else values)

    def create_row(self, values: dict[str, Any]) -> CalendarFeed:
        keys = {f"{name}_pk": row.pk for name, row in values.items() if name != "shows_addresses"}
        feed, token = calendars.add_feed(shows_addresses=values["shows_addresses"], **keys)
        feed.url = f"{settings.SITE_URL}/calendars/{token}.ics"
        return feed

    @command(if_match=False)
    def revoke(self, order: Order) -> CalendarFeed:
        """Make this address stop working."""
        return calendars.revoke_feed(order.row.pk, at=timezone.now())


class PinViews(Creates, Deletes):
    queryset = Pin.objects.all()
    serializer_class = calendar_shapes.PinShape
    branch_path = "branch"
    area = "crews"
    access = {"list": EVERYONE, "retrieve": EVERYONE, "create": OFFICE, "destroy": OFFICE}
    filterset_fields = ("branch", "job", "crew")

    def check_place(self, values: dict[str, Any]) -> None:
        super().check_place({"branch": values["job"].branch})

    def create_row(self, values: dict[str, Any]) -> Pin:
        crew = values.get("crew")
        return pins.pin_job(
            values["job"].pk,
            owner=self.who.user.get_username(),
            reason=values["reason"],
            crew_pk=crew.pk if crew else None,
            day=values.get("date"),
            half=values.get("half", ""),
        )

    def delete_row(self, row: Pin, if_match: int | None) -> None:
        pins.take_pin_away(row.pk, if_match=if_match)
