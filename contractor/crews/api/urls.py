"""Addresses of this app under /api/v1/."""

from __future__ import annotations

from rest_framework.routers import SimpleRouter

from contractor.crews.api import plan_views, views

router = SimpleRouter(trailing_slash=False)
router.register("vehicles", views.VehicleViews, basename="vehicle")
router.register("crews", views.CrewViews, basename="crew")
router.register("members", views.MemberViews, basename="member")
router.register("certificates", views.CertificateViews, basename="certificate")
router.register("holidays", views.HolidayViews, basename="holiday")
router.register("absences", views.AbsenceViews, basename="absence")
router.register("crew-plans", plan_views.CrewPlanViews, basename="crew-plan")
router.register("visits", plan_views.VisitViews, basename="visit")

urlpatterns = router.urls
