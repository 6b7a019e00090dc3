"""Addresses of the site: `/api/v1/`, the pages, health."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("api/v1/", include("contractor.api.urls")),
]
