"""Kits over HTTP."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.printed import printed_answer
from contractor.api.resources import Creates
from contractor.documents import pull_sheet
from inventory import services, sheets
from inventory.amounts import Need, day_at
from inventory.api import kit_shapes as shapes
from inventory.api.movement_views import needs
from inventory.api.roles import LOADERS, PEOPLE, READERS, STOCK
from inventory.models import Kit
from inventory.reallocation import proposals


class KitViews(Exports, Creates):
    queryset = Kit.objects.select_related("branch").prefetch_related("lines")
    serializer_class = shapes.KitShape
    create_shape = shapes.OpenKitShape
    branch_path = "branch"
    area = "inventory"
    ordering_fields = ("created_at", "needed_on", "priority")
    filterset_fields = ("branch", "status", "priority", "reference")
    access = {
        "list": PEOPLE,
        "export": PEOPLE,
        "retrieve": PEOPLE,
        "pull_sheet": PEOPLE,
        "printed_pull_sheet": PEOPLE,
        "reallocation_proposals": READERS,
        **dict.fromkeys(("create", "reserve", "release", "start_pulling", "pull", "short"), STOCK),
        **dict.fromkeys(("substitute", "stage", "put_back", "cancel", "remeasure"), STOCK),
        **dict.fromkeys(("load", "use", "return_kit"), LOADERS),
        "take_over": STOCK,
    }

    def create_row(self, values: dict[str, Any]) -> Kit:
        return services.create_kit(
            values["branch"].pk,
            values["reference"],
            needs(values["lines"]),
            priority=values["priority"],
            needed_on=values["needed_on"],
        )

    @command(body=shapes.ReserveKitShape)
    def reserve(self, order: Order) -> Kit:
        """Hold everything the kit needs, or answer what is short and when it comes."""
        return services.reserve_kit(
            order.row.pk,
            at=timezone.now(),
            expires_at=order.values["expires_at"],
            if_match=order.if_match,
        )

    @command()
    def release(self, order: Order) -> Kit:
        """Let go what the kit holds."""
        return services.release_kit(order.row.pk, if_match=order.if_match)

    @command()
    def start_pulling(self, order: Order) -> Kit:
        """The pull sheet goes out."""
        return services.start_pulling(order.row.pk, if_match=order.if_match)

    @command(body=shapes.PullShape)
    def pull(self, order: Order) -> Kit:
        """Put so many of a line into the kit."""
        values = order.values
        return services.pull(
            order.row.pk, values["line"], values["quantity"], if_match=order.if_match
        )

    @command(body=shapes.ShortShape)
    def short(self, order: Order) -> Kit:
        """So many of a line will not come, and why."""
        return services.short(order.row.pk, **_line(order), if_match=order.if_match)

    @command(body=shapes.SubstituteShape)
    def substitute(self, order: Order) -> Kit:
        """Take another part instead of so many of a line, and why."""
        values = order.values
        return services.substitute(
            order.row.pk,
            values["line"],
            Need(values["part"].pk, values["quantity"]),
            reason=values["reason"],
            at=timezone.now(),
            if_match=order.if_match,
        )

    @command()
    def stage(self, order: Order) -> Kit:
        """Everything is together."""
        return services.stage(order.row.pk, if_match=order.if_match)

    @command()
    def put_back(self, order: Order) -> Kit:
        """Everything back into its bins; the hold is released."""
        return services.put_back(order.row.pk, if_match=order.if_match)

    @command()
    def cancel(self, order: Order) -> Kit:
        """Drop the kit."""
        return services.cancel_kit(order.row.pk, if_match=order.if_match)

    @command(body=shapes.RemeasureShape)
    def remeasure(self, order: Order) -> Kit:
        """Another length for pieces that are not sawn; their cutting plan is made again."""
        values = order.values
        services.remeasure(
            order.row.pk,
            values["line"],
            values["length_ticks"],
            at=timezone.now(),
            count=values["count"],
            if_match=order.if_match,
        )
        return self.get_queryset().get(pk=order.row.pk)  # type: ignore[no-any-return]

    @command()
    def load(self, order: Order) -> Kit:
        """The kit is on the truck."""
        return services.load(order.row.pk, at=timezone.now(), if_match=order.if_match)

    @command()
    def use(self, order: Order) -> Kit:
        """All of it was used."""
        return services.use_kit(order.row.pk, if_match=order.if_match)

    @command(body=shapes.ReturnShape, path="return")
    def return_kit(self, order: Order) -> Kit:
        """These came back, those were spoiled on site; the rest was used."""
        values = order.values
        return services.return_kit(
            order.row.pk,
            _by_line(values["lines"]),
            at=timezone.now(),
            scrapped=_by_line(values["scrapped"]),
            reason=values["reason"],
            if_match=order.if_match,
        )

    @command(body=shapes.TakeOverShape)
    def take_over(self, order: Order) -> Kit:
        """Release the donors' holds and reserve this kit, or change nothing."""
        return services.take_over(
            order.row.pk,
            [kit.pk for kit in order.values["donors"]],
            at=timezone.now(),
            expires_at=order.values["expires_at"],
            if_match=order.if_match,
        )

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    @action(detail=True, url_path="pull-sheet")
    def pull_sheet(self, request: Request, pk: str) -> Response:
        """What to take from which bin, with weights."""
        return Response(sheets.pull_sheet(self.get_object(), units=self.units))

    @extend_schema(responses={(200, "application/pdf"): bytes})
    @action(detail=True, url_path="pull-sheet.pdf")
    def printed_pull_sheet(self, request: Request, pk: str) -> HttpResponse:
        """The same on paper."""
        kit = self.get_object()
        sheet = pull_sheet.render(sheets.pull_sheet(kit, units=self.units))
        return printed_answer(sheet, f"pull-sheet-{kit.pk}.pdf")

    @extend_schema(responses=shapes.ProposalsShape)
    @action(detail=True, url_path="reallocation-proposals")
    def reallocation_proposals(self, request: Request, pk: str) -> Response:
        """Who could give way for this kit, what they lose, until when."""
        kit = self.get_object()
        found = proposals(kit, on=day_at(kit.branch, timezone.now()))
        return Response(self.write(shapes.ProposalsShape, {"results": found}))


def _by_line(rows: list[dict[str, int]]) -> Counter[int]:
    """Return quantities by kit line; a line named twice counts twice."""
    found: Counter[int] = Counter()
    for row in rows:
        found[row["line"]] += row["quantity"]
    return found


def _line(order: Order) -> dict[str, Any]:
    values = order.values
    return {
        "line_pk": values["line"],
        "quantity": values["quantity"],
        "reason": values["reason"],
    }
