"""Addresses of the site: `/api/v1/`, the pages, health."""

from __future__ import annotations

from importlib.util import find_spec
from typing import Any

from django.urls import include, path


def _api_of(app: str) -> list[Any]:
    """Return the addresses of ``<app>/api/urls.py``; an app without an API adds nothing."""
    has_api = find_spec(f"{app}.api") and find_spec(f"{app}.api.urls")
    return [path("api/v1/", include(f"{app}.api.urls"))] if has_api else []


urlpatterns = [
    path("api/v1/", include("contractor.api.urls")),
    *_api_of("inventory"),
    *_api_of("jobs"),
    *_api_of("contractor.crews"),
    path("", include("jobs.urls")),
    path("", include("contractor.crews.urls")),
]
