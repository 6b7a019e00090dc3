"""Pages of this app."""

from __future__ import annotations

from django.urls import include, path

from jobs.pages.homeowner import homeowner
from jobs.pages.unsubscribe import unsubscribe

urlpatterns = [
    path("", include("jobs.pages.crew_urls")),
    path("u/<str:token>", unsubscribe, name="unsubscribe"),
    path("h/<str:token>", homeowner, name="homeowner"),
]
