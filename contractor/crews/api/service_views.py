"""Service windows, service plans and service visits over HTTP."""

from __future__ import annotations

from typing import Any

from contractor.api.access import EVERYONE, FIELD, OFFICE
from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.resources import Creates, Deletes
from contractor.crews.api import service_shapes
from contractor.crews.models import ServicePlan, ServiceVisit, ServiceWindow
from contractor.crews.services import flow, service_plans, service_visits


class ServiceWindowViews(Exports, Creates, Deletes):
    queryset = ServiceWindow.objects.all()
    serializer_class = service_shapes.ServiceWindowShape
    branch_path = "branch"
    area = "crews"
    access = {
        "list": EVERYONE,
        "export": EVERYONE,
        "retrieve": EVERYONE,
        "create": OFFICE,
        "destroy": OFFICE,
    }
    ordering_fields = ("created_at", "day")
    filterset_fields = ("branch", "request", "day")

    def check_place(self, values: dict[str, Any]) -> None:
        super().check_place({"branch": values["request"].branch})

    def create_row(self, values: dict[str, Any]) -> ServiceWindow:
        request = values.pop("request")
        return service_visits.offer_window(request.pk, **values)


class ServicePlanViews(Creates):
    queryset = ServicePlan.objects.select_related("branch__company")
    serializer_class = service_shapes.ServicePlanShape
    create_shape = service_shapes.RequestServicePlanShape
    branch_path = "branch"
    area = "crews"
    access = {
        "list": EVERYONE,
        "retrieve": EVERYONE,
        "create": OFFICE,
        "publish": OFFICE,
        "discard": OFFICE,
    }
    filterset_fields = ("branch", "status")

    def get_serializer_class(self) -> type[Any]:
        is_list = self.action == "list"
        return service_shapes.ServicePlanLineShape if is_list else self.serializer_class

    def create_row(self, values: dict[str, Any]) -> ServicePlan:
        branch = values.pop("branch")
        today = flow.local_today(branch)
        return service_plans.request_service_plan(branch.pk, today=today, **values)

    @command()
    def publish(self, order: Order) -> ServicePlan:
        """Make the proposal the branch's plan: service visits appear, move or are cancelled."""
        today = flow.local_today(order.row.branch)
        return service_plans.publish_service_plan(
            order.row.pk, if_match=order.if_match, today=today
        )

    @command()
    def discard(self, order: Order) -> ServicePlan:
        """Put a plan aside."""
        return service_plans.discard_service_plan(order.row.pk, if_match=order.if_match)


class ServiceVisitViews(Exports):
    queryset = ServiceVisit.objects.all()
    serializer_class = service_shapes.ServiceVisitShape
    branch_path = "branch"
    area = "crews"
    ordering_fields = ("created_at", "date")
    access = {
        "list": EVERYONE,
        "export": EVERYONE,
        "retrieve": EVERYONE,
        "confirm": FIELD,
        "cancel": OFFICE,
        "finish": FIELD,
    }
    filterset_fields = ("branch", "member", "request", "status", "date", "plan")

    @command()
    def confirm(self, order: Order) -> ServiceVisit:
        """The homeowner agreed to this time."""
        return service_visits.confirm_service_visit(order.row.pk, if_match=order.if_match)

    @command()
    def cancel(self, order: Order) -> ServiceVisit:
        """Take the visit back; its request waits for the next plan."""
        return service_visits.cancel_service_visit(order.row.pk, if_match=order.if_match)

    @command()
    def finish(self, order: Order) -> ServiceVisit:
        """The visit took place: it and its request are done."""
        return service_visits.finish_service_visit(order.row.pk, if_match=order.if_match)
