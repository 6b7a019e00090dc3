"""Create up to 500 rows in one request, each with its own fate; or only say what it would be."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

from django.db import transaction
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.exceptions import APIException
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api import conditional, idempotency, problems
from contractor.api.faults import fault
from contractor.api.models import Versioned
from contractor.api.resources import Creates
from contractor.api.serializers import StrictSerializer
from contractor.api.views import is_switched_on
from contractor.engine.errors import InputError
from contractor.errors import DomainError

MAX_ROWS = 500
DRY_RUN = OpenApiParameter(
    "dry_run",
    {"type": "string", "enum": ["true"]},
    "query",
    description="Check every row and store nothing.",
)


class RowsSerializer(StrictSerializer):
    rows = serializers.ListField(child=serializers.DictField(), min_length=1, max_length=MAX_ROWS)


class FateSerializer(StrictSerializer):
    index = serializers.IntegerField()
    status = serializers.IntegerField()
    id = serializers.IntegerField(allow_null=True)
    etag = serializers.CharField(allow_null=True)
    problem = serializers.DictField(allow_null=True)


class FatesSerializer(StrictSerializer):
    stored = serializers.IntegerField()
    refused = serializers.IntegerField()
    results = FateSerializer(many=True)


class BulkCreates(Creates):
    """Adds ``POST /kits/bulk``; name "bulk" in ``access``.

    Each row goes through the same shape, place check and service as a single POST, in a
    savepoint of its own: a refused row leaves nothing behind and does not stop the others.
    """

    def known_parameters(self) -> Set[str]:
        known = super().known_parameters()
        return known | {"dry_run"} if self.action == "bulk" else known

    @extend_schema(request=RowsSerializer, responses=FatesSerializer, parameters=[DRY_RUN])
    @action(detail=False, methods=["post"], url_path="bulk")
    def bulk(self, request: Request) -> Response:
        """Create many rows; the answer tells the fate of each."""
        is_dry_run = is_switched_on(request, "dry_run")
        rows = self.read(RowsSerializer)["rows"]
        results = [self._fate_of(index, row) for index, row in enumerate(rows)]
        stored = sum(result["status"] == 201 for result in results)
        response = Response({"stored": stored, "refused": len(rows) - stored, "results": results})
        if is_dry_run:
            raise idempotency.Undone(response)
        return response

    def _fate_of(self, index: int, row: dict[str, Any]) -> dict[str, Any]:
        fate: dict[str, Any] = {"index": index, "status": 201, "id": None, "etag": None}
        try:
            with transaction.atomic():
                made = self._create_one(row)
        except (DomainError, InputError, APIException) as error:
            found = problems.document_of(error, self.request.path)
            assert found is not None
            return {**fate, "status": found["status"], "problem": found}
        tag = conditional.etag(made) if isinstance(made, Versioned) else None
        return {**fate, "id": made.pk, "etag": tag, "problem": None}

    def _create_one(self, row: dict[str, Any]) -> Any:
        if not row:
            raise fault("The row is empty.", code="empty")
        values = self.read(self.create_shape or self.get_serializer_class(), row)
        self.check_place(values)
        return self.create_row(self.prepare_row(values))
