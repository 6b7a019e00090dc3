"""Addresses of the crew's pages and of signing in."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path
from django.views.generic import RedirectView

from jobs.pages import crew, crew_brace, crew_photos, crew_readings

urlpatterns = [
    path(
        "login",
        LoginView.as_view(template_name="pages/crew_login.html", next_page="/crew"),
        name="login",
    ),
    path("logout", LogoutView.as_view(next_page="/login"), name="logout"),
    path("", RedirectView.as_view(url="/crew")),
    path("crew", crew.job_list, name="crew"),
    path("crew/jobs/<int:job_pk>", crew.record, name="crew-record"),
    path("crew/jobs/<int:job_pk>/start", crew.start, name="crew-start"),
    path("crew/jobs/<int:job_pk>/photos", crew_photos.add, name="crew-photos"),
    path("crew/jobs/<int:job_pk>/close", crew.close, name="crew-close"),
    path("crew/jobs/<int:job_pk>/readings", crew_readings.zero_readings, name="crew-readings"),
    path("crew/braces/<int:brace_pk>", crew_brace.brace, name="crew-brace"),
    path("crew/photos/<int:photo_pk>/<str:size>", crew_photos.show, name="crew-photo"),
]
