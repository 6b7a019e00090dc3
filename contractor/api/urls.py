"""Addresses of the shared parts under /api/v1/; ``contractor.urls`` adds those of the apps."""

from __future__ import annotations

from django.urls import include, path
from rest_framework.routers import SimpleRouter

from contractor.api.endpoints import (
    calculations,
    company,
    events,
    people,
    site,
    tokens,
    webhooks,
)
from contractor.api.examples import EXAMPLES, add_examples
from contractor.api.examples import calculations as calculations_examples

add_examples({**EXAMPLES, **calculations_examples()})

router = SimpleRouter(trailing_slash=False)
router.register("companies", company.CompanyViewSet, basename="company")
router.register("branches", company.BranchesViewSet, basename="branch")
router.register("users", people.UsersViewSet, basename="user")
router.register("memberships", people.MembershipsViewSet, basename="membership")
router.register("tokens", tokens.TokensViewSet, basename="token")
router.register("events", events.EventsViewSet, basename="event")
router.register("audit", events.AuditViewSet, basename="audit")
router.register("webhook-endpoints", webhooks.WebhookEndpointsViewSet, basename="webhook-endpoint")
router.register(
    "webhook-deliveries", webhooks.WebhookDeliveriesViewSet, basename="webhook-delivery"
)
router.register("calculation-runs", calculations.CalculationRunsViewSet, basename="calculation-run")

urlpatterns = [
    path("me", site.MeView.as_view(), name="me"),
    path("health", site.HealthView.as_view(), name="health"),
    path("problems", site.ProblemTypesView.as_view(), name="problem-types"),
    path("problems/<str:code>", site.ProblemTypeView.as_view(), name="problem-type"),
    path("schema", site.SchemaView.as_view(), name="schema"),
    path("docs", site.DocsView.as_view(), name="docs"),
    path("guide", site.GuideView.as_view(), name="guide"),
    *calculations.urlpatterns,
    path("", include(router.urls)),
]
