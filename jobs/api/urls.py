"""Addresses of this app under /api/v1/."""

from __future__ import annotations

from django.urls import path
from rest_framework.routers import SimpleRouter

from contractor.api.examples import add_examples
from jobs.api import care_views, job_views, photo_views, record_views, views
from jobs.api.examples import EXAMPLES

add_examples(EXAMPLES)

router = SimpleRouter(trailing_slash=False)
router.register("customers", views.CustomerViews, basename="customer")
router.register("sites", views.SiteViews, basename="site")
router.register("surveys", views.SurveyViews, basename="survey")
router.register("brace-layouts", views.LayoutViews, basename="brace-layout")
router.register("jobs", job_views.JobViews, basename="job")
router.register("visit-requests", job_views.VisitRequestViews, basename="visit-request")
router.register("install-records", record_views.InstallViews, basename="install-record")
router.register("brace-records", record_views.BraceRecordViews, basename="brace-record")
router.register("photos", photo_views.PhotoViews, basename="photo")
router.register("reminders", record_views.ReminderViews, basename="reminder")
router.register("readings", record_views.ReadingViews, basename="reading")
router.register("care-logs", care_views.CareLogViews, basename="care-log")
router.register("text-replies", care_views.TextReplyViews, basename="text-reply")

urlpatterns = [
    path("follow-up", care_views.FollowUpView.as_view(), name="follow-up"),
    path("movement", record_views.MovementView.as_view(), name="movement"),
    *router.urls,
]
