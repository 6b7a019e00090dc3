"""The calendar address that phones and desktops subscribe to."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from contractor.crews.feeds import feed_text
from contractor.engine.calendars.feed import feed_etag
from contractor.errors import NotFoundError


@require_safe
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """Answer ``text/calendar`` with an ETag; the same 404 for unknown and revoked."""
    try:
        text = feed_text(token, at=timezone.now())
    except NotFoundError as refusal:
        return HttpResponse(refusal.detail, status=404, content_type="text/plain; charset=utf-8")
    tag = feed_etag(text)
    if request.headers.get("If-None-Match") == tag:
        return HttpResponse(status=304, headers={"ETag": tag})
    headers = {"ETag": tag, "Cache-Control": "private, no-cache", "X-Robots-Tag": "noindex"}
    return HttpResponse(text, content_type="text/calendar; charset=utf-8", headers=headers)
