"""Crew plans and visits over HTTP."""

from __future__ import annotations

from collections.abc import Set
from datetime import date
from typing import Any

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.access import EVERYONE, FIELD, OFFICE
from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.resources import Creates
from contractor.crews.api import plan_shapes, reason_shapes
from contractor.crews.models import CrewPlan, Visit
from contractor.crews.services import flow, plans, reasons, visits
from contractor.engine.rostering.document import Half
from contractor.errors import InvalidValueError


class CrewPlanViews(Creates):
    queryset = CrewPlan.objects.select_related("branch__company")
    serializer_class = plan_shapes.CrewPlanShape
    create_shape = plan_shapes.RequestPlanShape
    branch_path = "branch"
    area = "crews"
    access = {
        "list": EVERYONE,
        "retrieve": EVERYONE,
        "create": OFFICE,
        "publish": OFFICE,
        "discard": OFFICE,
        "why": OFFICE,
        "why_not": OFFICE,
        "crew_day_prices": OFFICE,
        "value": OFFICE,
    }
    filterset_fields = ("branch", "status", "mode")

    def known_parameters(self) -> Set[str]:
        asked = {"why": {"job"}, "why_not": {"job", "crew", "date", "half"}}
        return super().known_parameters() | asked.get(self.action, set())

    def get_serializer_class(self) -> type[Any]:
        return plan_shapes.CrewPlanLineShape if self.action == "list" else self.serializer_class

    def create_row(self, values: dict[str, Any]) -> CrewPlan:
        branch = values.pop("branch")
        today = flow.local_today(branch)
        for job in values.pop("jobs", []):
            visits.require_plannable(job, today=today, last_day=values["last_day"])
        return plans.request_plan(branch.pk, today=today, **values)

    @command()
    def publish(self, order: Order) -> CrewPlan:
        """Make the proposal the branch's plan: visits appear, move or are cancelled."""
        return plans.publish_plan(
            order.row.pk, if_match=order.if_match, today=flow.local_today(order.row.branch)
        )

    @command()
    def discard(self, order: Order) -> CrewPlan:
        """Put a proposal aside."""
        return plans.discard_plan(order.row.pk, if_match=order.if_match)

    @extend_schema(
        parameters=[OpenApiParameter("job", int, required=True)], responses=reason_shapes.WhyShape
    )
    @action(detail=True)
    def why(self, request: Request, pk: str) -> Response:
        """Explain one job: cost parts beside alternatives, earliest start, slack, pin, remedies."""
        return Response(reasons.why(self.get_object(), _key(request, "job")))

    @extend_schema(
        parameters=[
            OpenApiParameter("job", int, required=True),
            OpenApiParameter("crew", int, required=True),
            OpenApiParameter("date", date, required=True),
            OpenApiParameter("half", str, required=True, enum=["am", "pm"]),
        ],
        responses=reason_shapes.WhyNotShape,
    )
    @action(detail=True, url_path="why-not")
    def why_not(self, request: Request, pk: str) -> Response:
        """Say what keeps a crew from starting a job on a half-day, or what that would cost."""
        keys = _key(request, "job"), _key(request, "crew")
        return Response(reasons.why_not(self.get_object(), *keys, *_start(request)))

    @extend_schema(responses=reason_shapes.CrewDayPricesShape)
    @action(detail=True, url_path="crew-day-prices")
    def crew_day_prices(self, request: Request, pk: str) -> Response:
        """Price one more crew-day by branch and week; up to 20 seconds of computing."""
        return Response(reasons.crew_day_prices(self.get_object()))

    @extend_schema(responses=reason_shapes.ValueShape)
    @action(detail=True)
    def value(self, request: Request, pk: str) -> Response:
        """Say cost, bound, gap, seed, the best dispatch rule, and what each pin costs."""
        return Response(reasons.value(self.get_object()))


def _key(request: Request, name: str) -> int:
    text = request.query_params.get(name, "")
    if not (text.isascii() and text.isdecimal() and len(text) < 19):
        raise InvalidValueError(f"{name} is needed: a whole number.", remedy=f"Such as ?{name}=7.")
    return int(text)


def _start(request: Request) -> tuple[date, Half]:
    query = request.query_params
    try:
        day = date.fromisoformat(query.get("date", ""))
    except ValueError:
        day = None
    half = query.get("half", "")
    if day is None or half not in ("am", "pm"):
        raise InvalidValueError(
            "date and half are needed.", remedy="Such as ?date=2026-05-04&half=am."
        )
    return day, "am" if half == "am" else "pm"


class VisitViews(Exports):
    queryset = Visit.objects.all()
    serializer_class = plan_shapes.VisitShape
    branch_path = "branch"
    area = "crews"
    ordering_fields = ("created_at", "date")
    access = {
        "list": EVERYONE,
        "export": EVERYONE,
        "retrieve": EVERYONE,
        "confirm": FIELD,
        "cancel": OFFICE,
    }
    filterset_fields = ("branch", "crew", "job", "status", "date", "plan")

    @command()
    def confirm(self, order: Order) -> Visit:
        """The homeowner agreed to this half-day."""
        return visits.confirm_visit(order.row.pk, if_match=order.if_match)

    @command()
    def cancel(self, order: Order) -> Visit:
        """Take the visit back; the job waits for the next plan."""
        return visits.cancel_visit(order.row.pk, if_match=order.if_match)
