"""POST /calculations/<name>: the engine on a posted document; long ones run behind a status URL."""

from __future__ import annotations

import threading
from typing import ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.urls import path, reverse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api import conditional
from contractor.api.access import EVERYONE
from contractor.api.calculations import CALCULATIONS, Calculation, Limits
from contractor.api.commands import Order, command
from contractor.api.models import CalculationRun
from contractor.api.refusals import BusyError, InvalidParameterError
from contractor.api.resources import BranchViewSet
from contractor.api.serializers import StrictModelSerializer
from contractor.api.services import runs
from contractor.api.views import ApiView
from contractor.engine.errors import InputError

IN_REQUEST_S = 5.0
AT_ONCE = 2
_slots = threading.BoundedSemaphore(AT_ONCE)
_PREFER = OpenApiParameter(
    "Prefer",
    {"type": "string", "examples": ["respond-async"]},
    "header",
    description="respond-async: answer 202 with a status address at once; the run may be long. "
    "Other preferences are ignored (RFC 7240).",
)
_SECONDS = OpenApiParameter(
    "seconds",
    {"type": "number", "exclusiveMinimum": 0, "maximum": runs.LONGEST_S},
    "query",
    description=f"Time for the solver; in a request at most {IN_REQUEST_S:g}, else "
    f"{runs.LONGEST_S:g}.",
)


class RunSerializer(StrictModelSerializer[CalculationRun]):
    progress = serializers.DictField()
    answer = serializers.DictField(allow_null=True)
    problem = serializers.DictField(allow_null=True)

    class Meta:
        model = CalculationRun
        fields = [
            "id",
            "name",
            "units",
            "seconds",
            "status",
            "progress",
            "answer",
            "problem",
            "version",
            "created_at",
        ]


class CalculationView(ApiView):
    """Runs one calculator; nothing of the document is kept unless the run is asynchronous."""

    area = "calculations"
    stores_nothing = True
    query_parameters = frozenset({"seconds"})
    access: ClassVar = {"post": EVERYONE}
    calculation: ClassVar[Calculation]

    def post(self, request: Request) -> HttpResponseBase:
        if not isinstance(request.data, dict):
            raise InputError("not_an_object", "", "The body is no object.", "Post an object.")
        if "respond-async" in request.headers.get("Prefer", ""):
            return self._queue(request)
        seconds = min(_seconds(request, IN_REQUEST_S), IN_REQUEST_S)
        if not _slots.acquire(timeout=IN_REQUEST_S):
            raise BusyError(
                "Other calculations are running.",
                remedy="Try again, or send Prefer: respond-async.",
            )
        try:
            found = self.calculation.run(request.data, self.units, Limits(seconds))
        finally:
            _slots.release()
        return Response(found)

    def _queue(self, request: Request) -> Response:
        seconds = _seconds(request, runs.LONGEST_S)
        name = self.calculation.name
        run = runs.queue_run(self.who.user, name, request.data, self.units, seconds)
        address = reverse("calculation-run-detail", kwargs={"pk": run.pk})
        headers = {
            "Location": address,
            "Preference-Applied": "respond-async",
            "ETag": conditional.etag(run),
            "Retry-After": "1",
        }
        return Response(self.write(RunSerializer, run), status=202, headers=headers)


def _seconds(request: Request, default: float) -> float:
    text = request.query_params.get("seconds")
    if text is None:
        return default
    try:
        value = float(text) if len(text) <= 12 else -1.0
    except ValueError:
        value = -1.0
    if not 0 < value <= runs.LONGEST_S:
        raise InvalidParameterError(
            "seconds is not a number in its range.",
            remedy=f"Give more than 0 and at most {runs.LONGEST_S:g}.",
            parameter="seconds",
        )
    return value


def _view_of(calculation: Calculation) -> type[CalculationView]:
    """Return a view of its own, so that the schema documents each calculator by itself."""
    text = (calculation.run.__doc__ or "").strip()

    def post(self: CalculationView, request: Request) -> HttpResponseBase:
        return CalculationView.post(self, request)

    described = extend_schema(
        operation_id=f"calculate_{calculation.name.replace('-', '_')}",
        request=OpenApiTypes.OBJECT,
        responses={200: OpenApiTypes.OBJECT, 202: RunSerializer},
        parameters=[_PREFER, _SECONDS] if calculation.takes_time else [_PREFER],
        description=text,
    )
    members = {"calculation": calculation, "post": described(post), "__doc__": text}
    name = "".join(part.title() for part in calculation.name.split("-"))
    return type(f"{name}View", (CalculationView,), members)


class CalculationRunsViewSet(BranchViewSet):
    """The caller's own asynchronous runs of the last 24 hours."""

    queryset = CalculationRun.objects.all()
    serializer_class = RunSerializer
    area = "calculations"
    filterset_fields = ("name", "status")
    access: ClassVar = {"list": EVERYONE, "retrieve": EVERYONE, "cancel": EVERYONE}

    def get_queryset(self) -> QuerySet[CalculationRun]:
        rows = CalculationRun.objects.all()
        return rows.filter(user=self.who.user) if hasattr(self, "who") else rows.none()

    @command(if_match=False)
    def cancel(self, order: Order) -> CalculationRun:
        """Stop the run; what was found so far is dropped."""
        return runs.cancel_run(order.row.pk)


urlpatterns = [
    path(f"calculations/{name}", _view_of(entry).as_view(), name=f"calculate-{name}")
    for name, entry in CALCULATIONS.items()
]
