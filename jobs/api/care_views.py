"""Follow-up at a glance, and texts that wait for a person."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.access import FIELD, OFFICE
from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.fields import InstantField
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.api.views import ApiView
from contractor.errors import NotFoundError
from jobs import queries
from jobs.models import CareLog, TextReply
from jobs.services import replies


class OverdueShape(serializers.Serializer[dict[str, Any]]):
    job = serializers.IntegerField()
    branch = serializers.IntegerField()
    site = serializers.IntegerField()
    label = serializers.CharField()  # type: ignore[assignment]
    due_on = serializers.DateField()
    days_over = serializers.IntegerField()
    reminder = serializers.CharField()
    last_outcome = serializers.CharField(allow_null=True)


class SilentShape(serializers.Serializer[dict[str, Any]]):
    job = serializers.IntegerField()
    branch = serializers.IntegerField()
    site = serializers.IntegerField()
    label = serializers.CharField()  # type: ignore[assignment]
    unanswered = serializers.IntegerField()
    last_sign = InstantField(allow_null=True)


class MovingWallShape(serializers.Serializer[dict[str, Any]]):
    site = serializers.IntegerField()
    branch = serializers.IntegerField()
    label = serializers.CharField()  # type: ignore[assignment]
    wall = serializers.CharField()
    reason = serializers.CharField()
    last_reading_on = serializers.DateField()
    next_reading_on = serializers.DateField()


class FollowUpShape(serializers.Serializer[dict[str, Any]]):
    """At most 200 rows of a kind, the most pressing first."""

    overdue = OverdueShape(many=True)
    silent = SilentShape(many=True)
    walls = serializers.DictField(child=serializers.IntegerField())
    moving_in = MovingWallShape(many=True)
    waiting = serializers.DictField(child=serializers.IntegerField())


class FollowUpView(ApiView):
    """``?branch=`` narrows to one branch."""

    area = "jobs"
    access = {"get": FIELD}
    query_parameters = frozenset({"branch"})

    @extend_schema(
        parameters=[OpenApiParameter("branch", int, required=False)],
        responses={200: FollowUpShape},
    )
    def get(self, request: Request) -> Response:
        """Overdue re-tightenings, silent homeowners, walls by verdict, what waits for a person."""
        branches = self._branches(request.query_params.get("branch"))
        today = timezone.localdate()
        answer = {
            "overdue": queries.overdue_retightenings(branches, today),
            "silent": queries.silent_homeowners(branches),
            "walls": queries.walls_by_verdict(branches),
            "moving_in": queries.walls_moving_in(branches),
            "waiting": queries.waiting(branches),
        }
        return Response(self.write(FollowUpShape, answer))

    def _branches(self, wanted: str | None) -> list[int]:
        mine = self.who.branches(FIELD)
        if wanted is None:
            return mine
        found = [pk for pk in mine if str(pk) == wanted]
        if not found:
            raise NotFoundError("There is no such branch.", remedy="Name one of your branches.")
        return found


class CareLogShape(StrictModelSerializer[CareLog]):
    class Meta:
        model = CareLog
        fields = [
            *("id", "branch", "job", "reminder", "outcome", "note", "logged_at"),
            *("version", "created_at"),
        ]
        read_only_fields = fields


class CareLogViews(Exports):
    queryset = CareLog.objects.all()
    serializer_class = CareLogShape
    branch_path = "branch"
    area = "jobs"
    access = {"list": FIELD, "export": FIELD, "retrieve": FIELD}
    filterset_fields = ("branch", "job", "outcome")


class TextReplyShape(StrictModelSerializer[TextReply]):
    class Meta:
        model = TextReply
        fields = [
            *("id", "branch", "customer", "meaning", "text", "received_at", "handled_at"),
            *("version", "created_at"),
        ]
        read_only_fields = fields


class HandleReplyShape(StrictSerializer):
    is_opt_out = serializers.BooleanField()


class TextReplyViews(Exports):
    queryset = TextReply.objects.all()
    serializer_class = TextReplyShape
    branch_path = "branch"
    area = "jobs"
    access = {"list": OFFICE, "export": OFFICE, "retrieve": OFFICE, "handle": OFFICE}
    filterset_fields = ("branch", "customer", "meaning")

    @command(body=HandleReplyShape)
    def handle(self, order: Order) -> TextReply:
        """Somebody has read it: messages go on, or end where it meant stop."""
        return replies.handle_reply(
            order.row.pk, at=timezone.now(), if_match=order.if_match, **order.values
        )
