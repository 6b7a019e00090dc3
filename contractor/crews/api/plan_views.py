"""Crew plans and visits over HTTP."""

from __future__ import annotations

from datetime import date
from typing import Any

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.access import EVERYONE, FIELD, OFFICE
from contractor.api.commands import Order, command
from contractor.api.resources import BranchViewSet, Creates
from contractor.crews.api import plan_shapes
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
        "why_not": OFFICE,
    }
    filterset_fields = ("branch", "status", "mode")
    query_parameters = frozenset({"job", "crew", "date", "half"})

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
        parameters=[
            OpenApiParameter("job", int, required=True),
            OpenApiParameter("crew", int, required=True),
            OpenApiParameter("date", date, required=True),
            OpenApiParameter("half", str, required=True, enum=["am", "pm"]),
        ],
        responses=plan_shapes.WhyNotShape,
    )
    @action(detail=True, url_path="why-not")
    def why_not(self, request: Request, pk: str) -> Response:
        """Say, rule by rule, what keeps a crew from starting a job on a half-day."""
        job, crew, day, half = _asked(request)
        return Response(reasons.why_not(self.get_object(), job, crew, day, half))


def _asked(request: Request) -> tuple[int, int, date, Half]:
    query = request.query_params
    keys = [query.get("job", ""), query.get("crew", "")]
    half: Half = "pm" if query.get("half") == "pm" else "am"
    try:
        day = date.fromisoformat(query.get("date", ""))
    except ValueError:
        day = None
    if day is None or not all(key.isdecimal() and len(key) < 19 for key in keys):
        raise InvalidValueError(
            "job, crew and date are needed.",
            remedy="Such as ?job=7&crew=2&date=2026-05-04&half=am.",
        )
    return int(keys[0]), int(keys[1]), day, half


class VisitViews(BranchViewSet):
    queryset = Visit.objects.all()
    serializer_class = plan_shapes.VisitShape
    branch_path = "branch"
    area = "crews"
    ordering_fields = ("created_at", "date")
    access = {"list": EVERYONE, "retrieve": EVERYONE, "confirm": FIELD, "cancel": OFFICE}
    filterset_fields = ("branch", "crew", "job", "status", "date", "plan")

    @command()
    def confirm(self, order: Order) -> Visit:
        """The homeowner agreed to this half-day."""
        return visits.confirm_visit(order.row.pk, if_match=order.if_match)

    @command()
    def cancel(self, order: Order) -> Visit:
        """Take the visit back; the job waits for the next plan."""
        return visits.cancel_visit(order.row.pk, if_match=order.if_match)
