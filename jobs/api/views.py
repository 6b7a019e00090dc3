"""Customers, sites, surveys and layouts over HTTP."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from contractor.api.access import EVERYONE, FIELD, OFFICE
from contractor.api.bulk import BulkCreates
from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.faults import validation_error
from contractor.api.importing import Imports, Lookup
from contractor.api.printed import printed_answer
from contractor.api.resources import BranchViewSet, Changes, Creates
from contractor.engine.errors import InputError
from jobs.api import shapes
from jobs.api.privacy_views import PRIVACY_ACCESS, PrivacyActions
from jobs.models import BraceLayout, Customer, Site, Survey
from jobs.services import customers, sheets, surveys


class CustomerViews(PrivacyActions, Imports, BulkCreates, Exports, Changes):
    queryset = Customer.objects.prefetch_related("consents")
    serializer_class = shapes.CustomerShape
    change_shape = shapes.ChangeCustomerShape
    import_keys = (("branch", "reference"), ("branch", "phone", "email", "name"))
    branch_path = "branch"
    area = "jobs"
    access = {
        "list": OFFICE,
        "retrieve": OFFICE,
        "create": OFFICE,
        "bulk": OFFICE,
        "partial_update": OFFICE,
        "grant_consent": OFFICE,
        "opt_out": OFFICE,
        **PRIVACY_ACCESS,
        "export": OFFICE,
        "import_rows": OFFICE,
    }
    filterset_fields = ("branch", "language")

    @command(body=shapes.GrantShape, if_match=False)
    def grant_consent(self, order: Order) -> Customer:
        """Write down that the homeowner agreed to a channel."""
        values = {"at": timezone.now(), **order.values}
        customers.grant_consent(order.row.pk, **values)
        return Customer.objects.get(pk=order.row.pk)

    @command(body=shapes.OptOutShape, if_match=False)
    def opt_out(self, order: Order) -> Customer:
        """Take consent back at once, for one channel or all."""
        customers.opt_out(order.row.pk, at=timezone.now(), **order.values)
        return Customer.objects.get(pk=order.row.pk)


class SiteViews(Imports, BulkCreates, Exports, Changes):
    queryset = Site.objects.all()
    serializer_class = shapes.SiteShape
    change_shape = shapes.ChangeSiteShape
    import_keys = (("branch", "reference"), ("branch", "customer", "address", "label"))
    import_lookups = {
        "customer_reference": Lookup("customer", "reference"),
        "customer_name": Lookup("customer", "name"),
    }
    branch_path = "branch"
    area = "jobs"
    access = {
        "list": FIELD,
        "retrieve": FIELD,
        "create": OFFICE,
        "bulk": OFFICE,
        "partial_update": OFFICE,
        "export": FIELD,
        "import_rows": OFFICE,
    }
    filterset_fields = ("branch", "customer")


class SurveyViews(Creates):
    queryset = Survey.objects.all()
    serializer_class = shapes.SurveyShape
    branch_path = "branch"
    area = "jobs"
    access = {"list": FIELD, "retrieve": FIELD, "create": FIELD, "lay_out": OFFICE}
    filterset_fields = ("branch", "site", "wall")

    def create_row(self, values: dict[str, Any]) -> Survey:
        site = values.pop("site")
        try:
            return surveys.add_survey(site_pk=site.pk, **values)
        except InputError as error:
            document = validation_error(error).detail
            raise ValidationError({"document": document}) from error

    @command(
        answer=shapes.LayoutShape,
        status=201,
        if_match=False,
        compute=lambda view, order: surveys.compute(order.row.pk),
    )
    def lay_out(self, order: Order) -> BraceLayout:
        """Lay out braces, screen them and list the materials."""
        return surveys.keep(order.row.pk, order.computed)


class LayoutViews(BranchViewSet):
    queryset = BraceLayout.objects.select_related("survey__site", "branch__company")
    serializer_class = shapes.LayoutShape
    branch_path = "branch"
    area = "jobs"
    access = {
        "list": EVERYONE,
        "retrieve": EVERYONE,
        "drawing": EVERYONE,
        "framing_plan": EVERYONE,
        "drawing_sheet": EVERYONE,
        "calculation_sheet": EVERYONE,
        "calculation_page": EVERYONE,
        "install_sheet": EVERYONE,
    }
    filterset_fields = ("branch", "survey", "outcome")

    @extend_schema(responses={(200, "image/svg+xml"): str})
    @action(detail=True, url_path="drawing.svg")
    def drawing(self, request: Request, pk: str) -> HttpResponse:
        """The wall elevation to scale."""
        row = self.get_object()
        return printed_answer(sheets.drawing(row, "elevation"), f"elevation-{row.pk}.svg")

    @extend_schema(responses={(200, "image/svg+xml"): str})
    @action(detail=True, url_path="framing-plan.svg")
    def framing_plan(self, request: Request, pk: str) -> HttpResponse:
        """Backer and blocking where joists run along the wall."""
        row = self.get_object()
        return printed_answer(sheets.drawing(row, "framing_plan"), f"framing-plan-{row.pk}.svg")

    @extend_schema(responses={(200, "application/pdf"): bytes})
    @action(detail=True, url_path="drawing-sheet.pdf")
    def drawing_sheet(self, request: Request, pk: str) -> HttpResponse:
        """All drawings of the wall, one per A4 page."""
        row = self.get_object()
        return printed_answer(sheets.drawings_sheet(row), f"drawings-{row.pk}.pdf")

    @extend_schema(responses={(200, "application/pdf"): bytes})
    @action(detail=True, url_path="calculation-sheet.pdf")
    def calculation_sheet(self, request: Request, pk: str) -> HttpResponse:
        """Every number of the screening with its formula, clause and basis."""
        row = self.get_object()
        return printed_answer(sheets.calculation_sheet(row), f"calculation-{row.pk}.pdf")

    @extend_schema(responses={(200, "text/html"): str})
    @action(detail=True, url_path="calculation-sheet.html")
    def calculation_page(self, request: Request, pk: str) -> HttpResponse:
        """The same as a page."""
        row = self.get_object()
        return printed_answer(sheets.calculation_sheet(row), f"calculation-{row.pk}.html")

    @extend_schema(responses={(200, "application/pdf"): bytes})
    @action(detail=True, url_path="install-sheet.pdf")
    def install_sheet(self, request: Request, pk: str) -> HttpResponse:
        """Steps and blanks per brace for the crew."""
        row = self.get_object()
        return printed_answer(sheets.crew_sheet(row), f"install-{row.pk}.pdf")
