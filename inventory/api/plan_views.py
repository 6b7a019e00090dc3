"""Cutting plans over HTTP."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.commands import Order, command
from contractor.api.filters import KeyFilter, StrictFilterSet
from contractor.api.printed import printed_answer
from contractor.api.resources import BranchViewSet
from contractor.documents import cut_tickets
from contractor.errors import NotFoundError
from inventory import services, sheets
from inventory.api import kit_shapes as shapes
from inventory.api.roles import READERS, STOCK
from inventory.models import CutPiece, CuttingPlan


class CuttingPlanFilter(StrictFilterSet):
    kits = KeyFilter()

    class Meta:
        model = CuttingPlan
        fields = ("branch", "part", "status", "needs_replan")


class CuttingPlanViews(BranchViewSet):
    queryset = CuttingPlan.objects.select_related("branch", "part").prefetch_related(
        "bars__pieces", "kits"
    )
    serializer_class = shapes.CuttingPlanShape
    branch_path = "branch"
    area = "inventory"
    filterset_class = CuttingPlanFilter
    access = {
        **dict.fromkeys(("list", "retrieve", "cut_list", "labels"), READERS),
        "printed_cut_tickets": READERS,
        **dict.fromkeys(("create", "start_sawing", "cancel"), STOCK),
        **dict.fromkeys(("record_sawn", "record_mis_cut", "record_scrapped"), STOCK),
    }

    @extend_schema(request=shapes.RequestCutsShape, responses={202: shapes.PlansShape})
    def create(self, request: Request) -> Response:
        """Ask for the cutting plans of these kits: one per part, made in the background."""
        values = self.read(shapes.RequestCutsShape)
        for kit in values["kits"]:
            self.check_place({"branch": kit.branch})
        plans = services.request_cuts([kit.pk for kit in values["kits"]])
        return Response(self.write(shapes.PlansShape, {"results": plans}), status=202)

    @command()
    def start_sawing(self, order: Order) -> CuttingPlan:
        """Freeze the plan: only what is not sawn can still change."""
        return services.start_sawing(order.row.pk, if_match=order.if_match)

    @command()
    def cancel(self, order: Order) -> CuttingPlan:
        """Drop the plan before sawing starts."""
        return services.cancel_plan(order.row.pk, at=timezone.now(), if_match=order.if_match)

    @command(body=shapes.SawnShape)
    def record_sawn(self, order: Order) -> CuttingPlan:
        """A bar has been sawn."""
        values = order.values
        if not order.row.bars.filter(pk=values["bar"]).exists():
            raise NotFoundError("The plan has no such bar.", remedy="Read the cut list again.")
        services.record_sawn(
            values["bar"],
            at=timezone.now(),
            left_ticks=values["left_ticks"],
            bin_pk=values["bin"].pk if values["bin"] else None,
            mis_cut={one["piece"]: one["reason"] for one in values["mis_cut"]},
            if_match=order.if_match,
        )
        return self._again(order)

    @command(body=shapes.MisCutShape)
    def record_mis_cut(self, order: Order) -> CuttingPlan:
        """A sawn piece turned out wrong; the plan is made again for it."""
        values = order.values
        services.record_mis_cut(
            self._piece(order),
            reason=values["reason"],
            at=timezone.now(),
            actual_ticks=values["actual_ticks"],
            if_match=order.if_match,
        )
        return self._again(order)

    @command(body=shapes.MisCutPieceShape)
    def record_scrapped(self, order: Order) -> CuttingPlan:
        """A sawn piece is no good; the plan is made again for it."""
        services.record_scrapped(
            self._piece(order),
            reason=order.values["reason"],
            at=timezone.now(),
            if_match=order.if_match,
        )
        return self._again(order)

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    @action(detail=True, url_path="cut-list")
    def cut_list(self, request: Request, pk: str) -> Response:
        """Bars in saw order with their pieces."""
        return Response(sheets.cut_list(self.get_object(), units=self.units))

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    @action(detail=True)
    def labels(self, request: Request, pk: str) -> Response:
        """One label per piece, in saw order."""
        return Response({"results": sheets.labels(self.get_object(), units=self.units)})

    @extend_schema(responses={(200, "application/pdf"): bytes})
    @action(detail=True, url_path="cut-tickets.pdf")
    def printed_cut_tickets(self, request: Request, pk: str) -> HttpResponse:
        """Bars in saw order and a label per piece, on paper."""
        plan = self.get_object()
        labels = sheets.labels(plan, units=self.units)
        sheet = cut_tickets.render(sheets.cut_list(plan, units=self.units), labels)
        return printed_answer(sheet, f"cut-tickets-{plan.pk}.pdf")

    def _piece(self, order: Order) -> int:
        pk: int = order.values["piece"]
        if not CutPiece.objects.filter(pk=pk, bar__plan=order.row.pk).exists():
            raise NotFoundError("The plan has no such piece.", remedy="Read the cut list again.")
        return pk

    def _again(self, order: Order) -> CuttingPlan:
        return self.get_queryset().get(pk=order.row.pk)  # type: ignore[no-any-return]
