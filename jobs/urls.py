"""Pages of this app."""

from __future__ import annotations

from django.contrib import admin
from django.urls import include, path

from jobs.pages.gateway import failures, text_replies
from jobs.pages.homeowner import homeowner
from jobs.pages.unsubscribe import unsubscribe

urlpatterns = [
    path("", include("jobs.pages.crew_urls")),
    path("u/<str:token>", unsubscribe, name="unsubscribe"),
    path("gateway/replies", text_replies, name="text-replies"),
    path("gateway/failures", failures, name="delivery-failures"),
    path("admin/", admin.site.urls),
    path("h/<str:token>", homeowner, name="homeowner"),
]
