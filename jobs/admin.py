"""What an operator sees at ``/admin/``: reminders to look at, and every message before it goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.http import Http404, HttpRequest, HttpResponse
from django.template.response import TemplateResponse
from django.urls import URLPattern, path

from jobs.messages.compose import KINDS, LANGUAGES, SAMPLE, words
from jobs.models import Reminder

if TYPE_CHECKING:
    Base = admin.ModelAdmin[Reminder]
else:
    Base = admin.ModelAdmin


@admin.register(Reminder)
class ReminderAdmin(Base):
    """Read only: a reminder moves by its services alone."""

    change_list_template = "admin/jobs/reminders.html"
    list_display = ("id", "kind", "due_on", "status", "channel", "sent_at", "outcome")
    list_filter = ("status", "kind", "channel")
    date_hierarchy = "due_on"

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_urls(self) -> list[URLPattern]:
        view = self.admin_site.admin_view
        return [
            path("messages", view(self.messages), name="jobs_messages"),
            path(
                "messages/<str:kind>.<str:language>.html", view(self.html), name="jobs_message_html"
            ),
            *super().get_urls(),
        ]

    def messages(self, request: HttpRequest) -> HttpResponse:
        """Show every message in every language, filled with the facts of nobody."""
        rows = [
            {"kind": kind, "language": language, "words": words(kind, language, SAMPLE)}
            for kind in KINDS
            for language in LANGUAGES
        ]
        facts = {**self.admin_site.each_context(request), "title": "Messages", "rows": rows}
        return TemplateResponse(request, "admin/jobs/messages.html", facts)

    def html(self, request: HttpRequest, kind: str, language: str) -> HttpResponse:
        if kind not in KINDS or language not in LANGUAGES:
            raise Http404
        return HttpResponse(words(kind, language, SAMPLE).html)
