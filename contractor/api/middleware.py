"""Headers on every answer, problem details for what fails outside the views, the actor of pages."""

from __future__ import annotations

import secrets
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from contractor.api.actor import acting_as
from contractor.api.problems import CONTENT_TYPE, plain_response

GetResponse = Callable[[HttpRequest], HttpResponseBase]
API_ROOT = "/api/"
_PERMISSIONS_POLICY = (
    ", ".join(
        f"{feature}=()"
        for feature in (
            "accelerometer",
            "autoplay",
            "browsing-topics",
            "display-capture",
            "geolocation",
            "gyroscope",
            "magnetometer",
            "microphone",
            "midi",
            "payment",
            "usb",
        )
    )
    + ", camera=(self)"
)  # crews photograph walls


class SecurityHeadersMiddleware:
    """Content-Security-Policy without unsafe-inline; ``request.csp_nonce`` for our templates."""

    def __init__(self, get_response: GetResponse) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        nonce = secrets.token_urlsafe(16)
        request.csp_nonce = nonce  # type: ignore[attr-defined]
        response = self._get_response(request)
        is_page = response.get("Content-Type", "").startswith("text/html")
        policy = _page_policy(nonce) if is_page else "default-src 'none'; frame-ancestors 'none'"
        response.headers.setdefault("Content-Security-Policy", policy)
        response.headers.setdefault("Permissions-Policy", _PERMISSIONS_POLICY)
        return response


def _page_policy(nonce: str) -> str:
    own = f"'self' 'nonce-{nonce}'"
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {own}",
            f"style-src {own}",
            "img-src 'self' data: blob:",
            "font-src 'self'",
            "connect-src 'self'",
            "manifest-src 'self'",
            "worker-src 'self'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )


class ProblemDetailsMiddleware:
    """Under /api/ every 4xx and 5xx is a problem document, whoever produced it."""

    def __init__(self, get_response: GetResponse) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if not request.path.startswith(API_ROOT):
            return self._get_response(request)
        if _has_nul(request):
            return plain_response(
                request,
                400,
                detail="The address holds a NUL character (%00), which no text here may hold.",
                remedy="Send the address without it.",
            )
        response = self._get_response(request)
        if response.status_code < 400 or response.get("Content-Type") == CONTENT_TYPE:
            return response
        answer = plain_response(request, response.status_code)
        for name in ("Allow", "WWW-Authenticate", "Retry-After"):
            if name in response.headers:
                answer[name] = response.headers[name]
        return answer


def _has_nul(request: HttpRequest) -> bool:
    query = request.META.get("QUERY_STRING", "")
    return "\0" in request.path or "%00" in query or "\0" in query


class ActorMiddleware:
    """Name the signed-in person in events that the pages cause; API views name their own."""

    def __init__(self, get_response: GetResponse) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if settings.SESSION_COOKIE_NAME not in request.COOKIES:
            return self._get_response(request)
        user = getattr(request, "user", None)
        if user is None or not user.is_authenticated:
            return self._get_response(request)
        with acting_as(f"user:{user.pk}"):
            return self._get_response(request)


__all__ = [
    "ActorMiddleware",
    "HttpResponse",
    "ProblemDetailsMiddleware",
    "SecurityHeadersMiddleware",
]
