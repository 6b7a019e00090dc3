"""What happened, in order, and who changed what."""

from __future__ import annotations

from typing import Any, ClassVar

import django_filters
from django.db.models import Q, QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from contractor.api.access import EVERYONE, OWNERS
from contractor.api.exporting import Exports
from contractor.api.filters import StrictFilterSet
from contractor.api.models import AuditEntry, Event
from contractor.api.resources import BranchViewSet
from contractor.api.serializers import StrictModelSerializer
from contractor.api.webhooks import publishing

MOST_POSITION = 10**18 - 1


class EventSerializer(StrictModelSerializer[Event]):
    data: Any = serializers.DictField()

    class Meta:
        model = Event
        fields = [
            "position",
            "kind",
            "subject",
            "subject_version",
            "branch",
            "actor",
            "at",
            "data",
        ]


class EventFilter(StrictFilterSet):
    after = extend_schema_field({"type": "integer", "minimum": 0, "maximum": MOST_POSITION})(
        django_filters.NumberFilter("position", "gt", min_value=0, max_value=MOST_POSITION)
    )
    kind = django_filters.CharFilter()
    subject = django_filters.CharFilter()

    class Meta:
        model = Event
        fields = ["after", "kind", "subject", "branch"]


class EventsViewSet(BranchViewSet):
    """Events by position, oldest first. Ask again with ``after`` = the last position you have.

    A position is given after the commit, by one writer at a time: nothing appears later at a
    position that you have passed.
    """

    queryset = Event.objects.all()
    serializer_class = EventSerializer
    filterset_class = EventFilter
    area = "events"
    default_ordering = "position"
    lookup_field = "position"
    access: ClassVar = {"list": EVERYONE, "retrieve": EVERYONE}

    def get_queryset(self) -> QuerySet[Event]:
        if not hasattr(self, "who"):
            return Event.objects.none()
        companies = [company.pk for company in self.who.companies]
        mine = Q(branch__in=list(self.who.roles_by_branch))
        return Event.objects.filter(
            mine | Q(branch=None, company__in=companies), position__isnull=False
        )

    def list(self, *args: Any, **kwargs: Any) -> Any:
        publishing.publish(at=timezone.now())
        return super().list(*args, **kwargs)


class AuditEntrySerializer(StrictModelSerializer[AuditEntry]):
    before = serializers.DictField()
    after = serializers.DictField()

    class Meta:
        model = AuditEntry
        fields = [
            "id",
            "at",
            "actor",
            "subject",
            "subject_version",
            "branch",
            "what",
            "before",
            "after",
        ]


class AuditFilter(StrictFilterSet):
    subject = django_filters.CharFilter()
    actor = django_filters.CharFilter()
    since = django_filters.IsoDateTimeFilter("at", "gte")

    class Meta:
        model = AuditEntry
        fields = ["subject", "actor", "since", "what", "branch"]


class AuditViewSet(Exports):
    """The trail of the companies that the caller owns a branch of, newest first."""

    queryset = AuditEntry.objects.all()
    serializer_class = AuditEntrySerializer
    filterset_class = AuditFilter
    area = "company"
    default_ordering = "-at"
    access: ClassVar = {"list": OWNERS, "retrieve": OWNERS, "export": OWNERS}

    def get_queryset(self) -> QuerySet[AuditEntry]:
        if not hasattr(self, "who"):
            return AuditEntry.objects.none()
        owned = self.who.branches(OWNERS)
        at_branch = Q(branch__in=owned)
        of_company = Q(branch=None, company__branches__in=owned)
        return AuditEntry.objects.filter(at_branch | of_company).distinct()
