"""Giving out and erasing what is held about a homeowner."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api.access import OWNERS
from contractor.api.commands import Order, command
from contractor.api.views import ApiView
from jobs.models import Customer
from jobs.services import privacy

PRIVACY_ACCESS = {"personal_data": OWNERS, "erase": OWNERS}


class PrivacyActions(ApiView):
    """Mixed into the customers' views; ``access`` there takes PRIVACY_ACCESS in."""

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    @action(detail=True, url_path="personal-data")
    def personal_data(self, request: Request, pk: str) -> Response:
        """Everything that is held about this homeowner."""
        customer: Any = self.get_object()  # type: ignore[attr-defined]
        return Response(privacy.personal_data(customer.pk))

    @command()
    def erase(self, order: Order) -> Customer:
        """Take the person out; the work stays, without a name."""
        return privacy.erase_person(order.row.pk, at=timezone.now(), if_match=order.if_match)
