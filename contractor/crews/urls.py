"""Pages of this app."""

from __future__ import annotations

from django.urls import path

from contractor.crews.feed_page import calendar_feed

urlpatterns = [
    path("calendars/<str:token>.ics", calendar_feed, name="calendar-feed"),
]
