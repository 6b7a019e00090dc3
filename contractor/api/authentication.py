"""Machines send a token, people a session; only sessions need the CSRF check."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from contractor.api.models import Token, User

PREFIX = "tl_"
SEEN_EVERY = timedelta(minutes=1)
_REFUSAL = "The token is unknown, expired or revoked."


def new_secret() -> str:
    """Return a fresh token text: 256 random bits."""
    return PREFIX + secrets.token_urlsafe(32)


def digest_of(secret: str) -> str:
    """Return what is stored. A plain hash will do, for the secret is random and long."""
    return hashlib.sha256(secret.encode()).hexdigest()


class TokenAuthentication(BaseAuthentication):
    """``Authorization: Bearer tl_...``; also ``Token tl_...``."""

    def authenticate(self, request: Request) -> tuple[User, Token] | None:
        scheme, _, secret = request.headers.get("Authorization", "").strip().partition(" ")
        if scheme.lower() not in ("bearer", "token"):
            return None
        now = timezone.now()
        token = self._find(secret.strip(), now)
        _note_use(token, now)
        return token.user, token

    def _find(self, secret: str, now: datetime) -> Token:
        rows = Token.objects.select_related("user").filter(
            digest=digest_of(secret), revoked_at=None, expires_at__gt=now, user__is_active=True
        )
        token = rows.first()
        if token is None:
            raise AuthenticationFailed(_REFUSAL)
        return token

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="api"'


def _note_use(token: Token, now: datetime) -> None:
    """Write the time of use, at most once a minute, so that reads stay reads."""
    if token.last_used_at is None or now - token.last_used_at >= SEEN_EVERY:
        Token.objects.filter(pk=token.pk).update(last_used_at=now)


class ScreenSessionAuthentication(SessionAuthentication):
    """The session of the screens; unsafe methods need the CSRF token (403 without)."""

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        user = getattr(request._request, "user", None)
        if user is None or not user.is_authenticated or not user.is_active:
            return None
        self.enforce_csrf(request)
        return user, None
