"""Questions over HTTP: stock at a date, promises, what to buy, how well we saw."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.utils import timezone
from django.utils.dateparse import parse_datetime
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.access import for_user
from contractor.api.models import Branch
from contractor.api.permissions import role_refusal
from contractor.api.refusals import InvalidParameterError
from contractor.api.views import ApiView
from contractor.errors import NotFoundError
from inventory.amounts import day_at
from inventory.api import kit_shapes, report_shapes
from inventory.api.movement_views import needs
from inventory.api.roles import READERS
from inventory.buying import order_suggestions, reorder_points
from inventory.promising import Rank, promise, whole
from inventory.queries import positions_at, stock_faults
from inventory.reports import offcuts_by_age, yield_by_month
from inventory.services.reserving import check_needs

BRANCH = OpenApiParameter("branch", int, required=True)


class BranchReport(ApiView):
    """A report about one branch of the caller."""

    area = "inventory"
    access = {"get": READERS}
    query_parameters = frozenset({"branch"})

    def branch(self) -> Branch:
        """Return ``?branch=``; 404 outside the caller's branches, 403 without the role there."""
        text = self.request.query_params.get("branch", "")
        rows = for_user(Branch.objects.all(), self.who, branch_path="pk")
        usable = text.isascii() and text.isdecimal() and len(text) < 19
        branch = rows.filter(pk=int(text)).first() if usable else None
        if branch is None:
            raise NotFoundError("There is no such branch.", remedy="Name one of yours: ?branch=.")
        if not self.who.roles_by_branch[branch.pk] & READERS:
            raise role_refusal(READERS)
        return branch

    def day(self, name: str, default: date) -> date:
        text = self.request.query_params.get(name)
        try:
            return date.fromisoformat(text) if text is not None else default
        except ValueError as error:
            raise InvalidParameterError(
                f"{name} is not a date.", remedy="Write it as 2026-03-31.", parameter=name
            ) from error


class StockView(BranchReport):
    query_parameters = frozenset({"branch", "at"})

    @extend_schema(
        parameters=[BRANCH, OpenApiParameter("at", datetime)],
        responses=report_shapes.PositionsShape,
    )
    def get(self, request: Request) -> Response:
        """Stock and value of every part at a moment, now by default."""
        at = self._moment()
        found = positions_at([self.branch().pk], at)
        answer = {"at": at, "results": found, "cents": sum(one.cents for one in found)}
        return Response(self.write(report_shapes.PositionsShape, answer))

    def _moment(self) -> datetime:
        text = self.request.query_params.get("at")
        if text is None:
            return timezone.now()
        try:
            at = parse_datetime(text.replace(" ", "+"))
        except ValueError:
            at = None
        if at is None or timezone.is_naive(at) or not 1 < at.year < 9999:
            raise InvalidParameterError(
                "at is no moment with an offset.",
                remedy="Write it as 2026-03-31T18:00:00Z.",
                parameter="at",
            )
        return at


class PromiseView(ApiView):
    area = "inventory"
    access = {"post": READERS}
    stores_nothing = True

    @extend_schema(request=kit_shapes.AtpShape, responses=kit_shapes.AtpAnswerShape)
    def post(self, request: Request) -> Response:
        """The earliest day for each line and for the whole bill."""
        values = self.read(kit_shapes.AtpShape)
        branch: Branch = values["branch"]
        if not self.who.roles_by_branch.get(branch.pk, frozenset()) & READERS:
            raise role_refusal(READERS)
        wanted = needs(values["lines"])
        parts = check_needs(branch, wanted)
        rank = Rank(values["priority"], values["needed_on"])
        on = day_at(branch, timezone.now())
        promises = promise(branch, wanted, parts, on=on, rank=rank)
        answer: dict[str, Any] = {"lines": promises, "whole_on": whole(promises)}
        return Response(self.write(kit_shapes.AtpAnswerShape, answer))


class SuggestionView(BranchReport):
    @extend_schema(parameters=[BRANCH], responses=report_shapes.SuggestionsShape)
    def get(self, request: Request) -> Response:
        """Orders that would meet open kits and refill below the reorder points."""
        branch = self.branch()
        found = order_suggestions(branch, on=day_at(branch, timezone.now()))
        return Response(self.write(report_shapes.SuggestionsShape, {"results": found}))


class ReorderPointView(BranchReport):
    @extend_schema(parameters=[BRANCH], responses=report_shapes.ReorderPointsShape)
    def get(self, request: Request) -> Response:
        """Reorder points from the use of the last 90 days and the lead times."""
        branch = self.branch()
        found = reorder_points(branch, on=day_at(branch, timezone.now()))
        return Response(self.write(report_shapes.ReorderPointsShape, {"results": found}))


class SawReportView(BranchReport):
    query_parameters = frozenset({"branch", "first", "last"})

    @extend_schema(
        parameters=[BRANCH, OpenApiParameter("first", date), OpenApiParameter("last", date)],
        responses=report_shapes.SawReportShape,
    )
    def get(self, request: Request) -> Response:
        """Yield by month (this year by default) and offcuts by age."""
        branch, now = self.branch(), timezone.now()
        today = day_at(branch, now)
        first = self.day("first", today.replace(month=1, day=1))
        answer = {
            "months": yield_by_month(branch, first=first, last=self.day("last", today)),
            "offcuts": offcuts_by_age(branch, at=now),
        }
        return Response(self.write(report_shapes.SawReportShape, answer))


class StockCheckView(BranchReport):
    @extend_schema(parameters=[BRANCH], responses=report_shapes.FaultsShape)
    def get(self, request: Request) -> Response:
        """Everything that does not add up; an empty list is what everybody expects."""
        found = stock_faults(self.branch().pk)
        return Response(self.write(report_shapes.FaultsShape, {"results": found}))
