"""Who am I, is the service well, which refusals are there, and the documentation page."""

from __future__ import annotations

import threading
from functools import cache
from pathlib import Path
from typing import Any, ClassVar

from django.conf import settings
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views import View
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.renderers import OpenApiJsonRenderer, OpenApiYamlRenderer
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularAPIView
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.access import EVERYONE
from contractor.api.models import Role
from contractor.api.permissions import PUBLIC
from contractor.api.refusals import ProblemType, catalogue
from contractor.api.serializers import StrictSerializer
from contractor.api.views import ApiView


class HeldRolesSerializer(StrictSerializer):
    branch = serializers.IntegerField()
    roles = serializers.ListField(child=serializers.ChoiceField(Role.choices))


class MeSerializer(StrictSerializer):
    user = serializers.IntegerField()
    username = serializers.CharField()
    company = serializers.IntegerField(allow_null=True)
    units = serializers.ChoiceField(["us", "si"])
    roles = HeldRolesSerializer(many=True)
    token = serializers.IntegerField(allow_null=True)
    scopes = serializers.ListField(child=serializers.CharField(), allow_null=True)


class MeView(ApiView):
    """The caller: account, roles by branch, the token's scopes (null in a session)."""

    area = "company"
    access: ClassVar = {"get": EVERYONE}

    @extend_schema(responses=MeSerializer, operation_id="me")
    def get(self, request: Request) -> Response:
        who = self.who
        return Response(
            {
                "user": who.user.pk,
                "username": who.user.get_username(),
                "company": who.company.pk if who.company else None,
                "units": self.units,
                "roles": [
                    {"branch": branch, "roles": sorted(roles)}
                    for branch, roles in who.roles_by_branch.items()
                ],
                "token": who.token.pk if who.token else None,
                "scopes": who.token.scopes if who.token else None,
            }
        )


class HealthSerializer(StrictSerializer):
    status = serializers.ChoiceField(["ok", "down"])
    database = serializers.ChoiceField(["ok", "down"])
    queue = serializers.ChoiceField(["celery", "ticker", "manual"])


class HealthView(ApiView):
    """200 while the database answers, else 503; for load balancers, without a token."""

    access: ClassVar = {"get": PUBLIC}
    authentication_classes = ()
    throttle_classes = ()

    @extend_schema(responses={200: HealthSerializer, 503: HealthSerializer}, operation_id="health")
    def get(self, request: Request) -> HttpResponseBase:
        database = "ok" if _database_answers() else "down"
        document = {"status": database, "database": database, "queue": settings.QUEUE_MODE}
        return Response(document, status=200 if database == "ok" else 503)


def _database_answers() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            return bool(cursor.fetchone())
    except DatabaseError:
        return False


class ProblemTypeSerializer(StrictSerializer):
    type = serializers.CharField()
    code = serializers.CharField()
    status = serializers.IntegerField()
    title = serializers.CharField()


class ProblemTypesView(ApiView):
    """Every code that a refusal can carry."""

    access: ClassVar = {"get": PUBLIC}
    authentication_classes = ()

    @extend_schema(
        responses=ProblemTypeSerializer(many=True), operation_id="problem_types", filters=False
    )
    def get(self, request: Request) -> Response:
        return Response([_type_document(entry) for entry in catalogue().values()])


class ProblemTypeView(ApiView):
    """One code; the address is the ``type`` of the problem document."""

    access: ClassVar = {"get": PUBLIC}
    authentication_classes = ()

    @extend_schema(responses=ProblemTypeSerializer, operation_id="problem_type")
    def get(self, request: Request, code: str) -> Response:
        found = catalogue().get(code)
        if found is None:
            raise NotFound
        return Response(_type_document(found))


def _type_document(entry: ProblemType) -> dict[str, Any]:
    address = reverse("problem-type", kwargs={"code": entry.code})
    return {"type": address, "code": entry.code, "status": entry.status, "title": entry.title}


class SchemaView(SpectacularAPIView):
    """The OpenAPI 3.1 document, as JSON or YAML."""

    @extend_schema(exclude=True)
    def get(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponse:
        renderer = request.accepted_renderer
        with _making:
            text = schema_text(renderer.format)
        return HttpResponse(text, content_type=renderer.media_type)


_making = threading.Lock()


@cache
def schema_text(form: str) -> bytes:
    """Return the document as "json" or "yaml". Made once: making it takes seconds."""
    renderer = OpenApiJsonRenderer() if form == "json" else OpenApiYamlRenderer()
    text: bytes = renderer.render(_schema())
    return text


@cache
def _schema() -> Any:
    return SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]


class DocsView(View):
    """The documentation page; every file comes from this site."""

    def get(self, request: HttpRequest) -> HttpResponse:
        return render(request, "api/docs.html", {"schema_url": reverse("schema")})


class GuideView(View):
    """The integration guide with the versioning policy and the changelog, as text."""

    def get(self, request: HttpRequest) -> HttpResponse:
        text = (Path(__file__).parent.parent / "guide.md").read_text("utf-8")
        return HttpResponse(text, content_type="text/markdown; charset=utf-8")
