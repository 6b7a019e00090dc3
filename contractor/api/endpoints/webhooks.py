"""Webhook endpoints and the delivery log."""

from __future__ import annotations

import re
from typing import Any, ClassVar

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from contractor.api.access import OWNERS
from contractor.api.commands import Order, command
from contractor.api.faults import fault, validation_error
from contractor.api.fields import ScopedKeyField
from contractor.api.models import (
    Branch,
    Company,
    Role,
    WebhookAttempt,
    WebhookDelivery,
    WebhookEndpoint,
)
from contractor.api.permissions import role_refusal
from contractor.api.resources import BranchViewSet, Changes, Creates, Deletes
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.api.services import webhooks
from contractor.api.webhooks.addresses import read_target
from contractor.engine.errors import InputError

MANAGERS = OWNERS | {Role.INTEGRATION}
_KIND = re.compile(r"[a-z][a-z_]*\.(\*|[a-z_]+)|ping|\*")


@extend_schema_field({"type": "string", "pattern": "^https?://[!-~]+$", "maxLength": 500})
class AddressField(serializers.CharField):
    """``read_target`` says what is wrong with it."""


@extend_schema_field({"type": "string", "pattern": f"^({_KIND.pattern})$", "maxLength": 60})
class KindField(serializers.CharField):
    """``validate_kinds`` says what is wrong with it."""


class EndpointSerializer(StrictModelSerializer[WebhookEndpoint]):
    company: Any = ScopedKeyField(Company.objects.all(), company_path="pk")
    branch: Any = ScopedKeyField(
        Branch.objects.all(),
        branch_path="pk",
        required=False,
        allow_null=True,
        default=None,
        help_text="Only events of this branch; null means the whole company (owners of it all).",
    )
    url = AddressField(max_length=500)
    kinds = serializers.ListField(
        child=KindField(max_length=60),
        max_length=50,
        required=False,
        default=list,
        help_text='Event kinds such as "job.scheduled", or "job.*"; empty means every kind.',
    )

    class Meta:
        model = WebhookEndpoint
        fields = [
            "id",
            "company",
            "branch",
            "url",
            "description",
            "kinds",
            "status",
            "status_reason",
            "failing_since",
            "hold_until",
            "old_secret_until",
            "version",
            "created_at",
        ]
        read_only_fields = [
            "status",
            "status_reason",
            "failing_since",
            "hold_until",
            "old_secret_until",
            "version",
        ]

    def validate_url(self, value: str) -> str:
        try:
            read_target(value, "")
        except InputError as error:
            raise validation_error(error) from error
        return value

    def validate_kinds(self, value: list[str]) -> list[str]:
        for kind in value:
            if not _KIND.fullmatch(kind):
                raise fault(f"{kind!r} is no event kind.", code="unknown_kind")
        return value


class EndpointChangeSerializer(EndpointSerializer):
    """Company and branch stay: they decide who may see what is sent."""

    company: Any = serializers.PrimaryKeyRelatedField(read_only=True)
    branch: Any = serializers.PrimaryKeyRelatedField(read_only=True)


class EndpointSecretSerializer(EndpointSerializer):
    secret = serializers.CharField(
        source="shown_secret", read_only=True, help_text="whsec_...; shown this once."
    )

    class Meta(EndpointSerializer.Meta):
        fields = [*EndpointSerializer.Meta.fields, "secret"]


class ReplaySerializer(StrictSerializer):
    after = serializers.IntegerField(
        min_value=0, max_value=2**62, help_text="Position of the last event that you have."
    )


class ReplayedSerializer(StrictSerializer):
    queued = serializers.IntegerField()


class AttemptSerializer(StrictModelSerializer[WebhookAttempt]):
    class Meta:
        model = WebhookAttempt
        fields = ["number", "at", "duration_ms", "http_status", "outcome"]


class DeliverySerializer(StrictModelSerializer[WebhookDelivery]):
    log = AttemptSerializer(many=True, read_only=True)

    class Meta:
        model = WebhookDelivery
        fields = [
            "id",
            "endpoint",
            "message_id",
            "kind",
            "subject",
            "position",
            "status",
            "attempts",
            "next_at",
            "last_outcome",
            "delivered_at",
            "created_at",
            "log",
        ]


class _EndpointScope(BranchViewSet):
    """A company-wide endpoint is for those who manage every branch of the company."""

    endpoint_path = ""

    def managed(self) -> Q:
        branches = self.who.branches(MANAGERS)
        whole = [
            company.pk
            for company in self.who.companies
            if not company.branches.exclude(pk__in=branches).exists()
        ]
        at = self.endpoint_path
        return Q(**{f"{at}branch__in": branches}) | Q(
            **{f"{at}branch": None, f"{at}company__in": whole}
        )


class WebhookEndpointsViewSet(_EndpointScope, Creates, Changes, Deletes):
    queryset = WebhookEndpoint.objects.all()
    serializer_class = EndpointSerializer
    change_shape = EndpointChangeSerializer
    created_shape = EndpointSecretSerializer
    area = "webhooks"
    seals_answers = True
    filterset_fields = ("branch", "status")
    access: ClassVar = {
        "list": MANAGERS,
        "retrieve": MANAGERS,
        "create": MANAGERS,
        "partial_update": MANAGERS,
        "destroy": MANAGERS,
        "rotate_secret": MANAGERS,
        "pause": MANAGERS,
        "resume": MANAGERS,
        "ping": MANAGERS,
        "replay": MANAGERS,
    }

    def get_queryset(self) -> QuerySet[WebhookEndpoint]:
        rows = WebhookEndpoint.objects.select_related("company", "branch")
        return rows.filter(self.managed()) if hasattr(self, "who") else rows.none()

    def check_place(self, values: dict[str, Any]) -> None:
        if "company" not in values:
            return
        company, branch = values["company"], values["branch"]
        managed = set(self.who.branches(MANAGERS))
        wanted = {branch.pk} if branch else set(company.branches.values_list("pk", flat=True))
        if not wanted <= managed:
            raise role_refusal(MANAGERS)
        if branch and branch.company_id != company.pk:
            raise serializers.ValidationError({"branch": ["The branch is not the company's."]})

    def create_row(self, values: dict[str, Any]) -> Any:
        return _with_secret(*webhooks.add_endpoint(**values))

    @command(answer=EndpointSecretSerializer)
    def rotate_secret(self, order: Order) -> Any:
        """Make a new secret; both sign for 24 hours."""
        at = timezone.now()
        return _with_secret(*webhooks.rotate_secret(order.row.pk, order.if_match, at=at))

    @command()
    def pause(self, order: Order) -> WebhookEndpoint:
        """Hold deliveries back; events keep queueing up."""
        return webhooks.pause(order.row.pk, order.if_match)

    @command()
    def resume(self, order: Order) -> WebhookEndpoint:
        """Send again; everything that waits is due at once."""
        return webhooks.resume(order.row.pk, order.if_match, at=timezone.now())

    @command(answer=DeliverySerializer, status=202, if_match=False)
    def ping(self, order: Order) -> WebhookDelivery:
        """Queue a test message; its fate is in the delivery log."""
        return webhooks.ping(order.row.pk, at=timezone.now())

    @command(body=ReplaySerializer, answer=ReplayedSerializer, status=202, if_match=False)
    def replay(self, order: Order) -> dict[str, int]:
        """Send every wanted event behind a position again, under the same message ids."""
        after = order.values["after"]
        return {"queued": webhooks.replay(order.row.pk, after=after, at=timezone.now())}


class WebhookDeliveriesViewSet(_EndpointScope):
    """The delivery log: what waits, what arrived, every attempt."""

    endpoint_path = "endpoint__"
    queryset = WebhookDelivery.objects.all()
    serializer_class = DeliverySerializer
    area = "webhooks"
    filterset_fields = ("endpoint", "status", "kind", "subject")
    access: ClassVar = {"list": MANAGERS, "retrieve": MANAGERS, "resend": MANAGERS}

    def get_queryset(self) -> QuerySet[WebhookDelivery]:
        log = Prefetch("log", WebhookAttempt.objects.order_by("pk"))
        rows = WebhookDelivery.objects.prefetch_related(log)
        return rows.filter(self.managed()) if hasattr(self, "who") else rows.none()

    @command(status=202, if_match=False)
    def resend(self, order: Order) -> WebhookDelivery:
        """Send this message again, under the id it had."""
        return webhooks.resend(order.row.pk, at=timezone.now())


def _with_secret(endpoint: WebhookEndpoint, secret: str) -> WebhookEndpoint:
    endpoint.shown_secret = secret  # type: ignore[attr-defined]
    return endpoint
