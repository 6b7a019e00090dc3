"""Addresses of this app under /api/v1/."""

from __future__ import annotations

from rest_framework.routers import SimpleRouter

from contractor.api.examples import add_examples
from contractor.crews.api import calendar_views, plan_views, service_views, views
from contractor.crews.api.examples import EXAMPLES

add_examples(EXAMPLES)

router = SimpleRouter(trailing_slash=False)
router.register("vehicles", views.VehicleViews, basename="vehicle")
router.register("crews", views.CrewViews, basename="crew")
router.register("members", views.MemberViews, basename="member")
router.register("certificates", views.CertificateViews, basename="certificate")
router.register("holidays", views.HolidayViews, basename="holiday")
router.register("absences", views.AbsenceViews, basename="absence")
router.register("crew-plans", plan_views.CrewPlanViews, basename="crew-plan")
router.register("visits", plan_views.VisitViews, basename="visit")
router.register("calendar-feeds", calendar_views.CalendarFeedViews, basename="calendar-feed")
router.register("pins", calendar_views.PinViews, basename="pin")
router.register("service-windows", service_views.ServiceWindowViews, basename="service-window")
router.register("service-plans", service_views.ServicePlanViews, basename="service-plan")
router.register("service-visits", service_views.ServiceVisitViews, basename="service-visit")

urlpatterns = router.urls
