"""One-click unsubscribe (RFC 8058): a POST without cookies ends the reminders, a GET never does.

Mail scanners fetch links, so GET only shows a form whose button posts.
"""

from __future__ import annotations

from django.core.signing import BadSignature
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from contractor.errors import NotFoundError
from jobs.messages.compose import read_unsubscribe_token
from jobs.services.customers import opt_out


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def unsubscribe(request: HttpRequest, token: str) -> HttpResponse:
    """End one channel of one homeowner; the token names both and nothing else."""
    try:
        customer_pk, channel = read_unsubscribe_token(token)
        if request.method == "POST":
            opt_out(customer_pk, channel=channel, by="unsubscribe link", at=timezone.now())
    except (BadSignature, NotFoundError, KeyError, ValueError):
        return _page(request, {"state": "unknown"}, status=404)
    return _page(request, {"state": "done" if request.method == "POST" else "ask"})


def _page(request: HttpRequest, facts: dict[str, str], status: int = 200) -> HttpResponse:
    response = render(request, "pages/unsubscribe.html", facts, status=status)
    response["Cache-Control"] = "no-store"
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex"
    return response
