"""What the text gateway and the mail server tell us: replies, and addresses that failed.

``POST /gateway/replies`` takes ``{"from", "text"}``, ``POST /gateway/failures`` takes
``{"channel", "to", "why"}``. Both carry ``Idempotency-Key`` (the gateway's id), ``Timestamp``
(unix seconds, within five minutes of ours) and ``Signature: hmac-sha256=HEX`` over
``id.timestamp.body`` with TEXT_GATEWAY_SECRET. Without a secret nobody is let in.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any

from django.conf import settings
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from contractor.api.actor import acting_as
from jobs.models import Consent
from jobs.services import replies

TOLERANCE_S = 300
MOST_BYTES = 20_000
Handler = Callable[[dict[str, str], str, datetime], dict[str, Any]]


def signature_of(secret: str, key: str, timestamp: str, body: bytes) -> str:
    """Return what the ``Signature`` header must say."""
    signed = f"{key}.{timestamp}.".encode() + body
    return "hmac-sha256=" + hmac.new(secret.encode(), signed, hashlib.sha256).hexdigest()


def from_gateway(*members: str) -> Callable[[Handler], Callable[[HttpRequest], JsonResponse]]:
    """Check the signature, read the text ``members`` of the body, answer what the handler says."""

    def decorate(handler: Handler) -> Callable[[HttpRequest], JsonResponse]:
        @csrf_exempt
        @require_POST
        @wraps(handler)
        def view(request: HttpRequest) -> JsonResponse:
            at = timezone.now()
            key = request.headers.get("Idempotency-Key", "").strip('"')
            length = str(request.META.get("CONTENT_LENGTH") or "0")
            if not length.isdecimal() or int(length) > MOST_BYTES:
                return _refusal(413, "too_long", "The body is too long.")
            if not _is_signed(request, key, at):
                return _refusal(401, "not_signed", "The signature is missing or wrong.")
            values = _read(request.body, members)
            if values is None or not 1 <= len(key) <= 100:
                return _refusal(400, "not_readable", f"Send JSON with {', '.join(members)}.")
            with acting_as("gateway"):
                return JsonResponse(handler(values, key, at))

        return view

    return decorate


def _is_signed(request: HttpRequest, key: str, at: datetime) -> bool:
    timestamp = request.headers.get("Timestamp", "")
    if not settings.TEXT_GATEWAY_SECRET or not timestamp.isdecimal() or len(timestamp) > 12:
        return False
    if abs(at.timestamp() - int(timestamp)) > TOLERANCE_S:
        return False
    wanted = signature_of(settings.TEXT_GATEWAY_SECRET, key, timestamp, request.body)
    return hmac.compare_digest(wanted.encode(), request.headers.get("Signature", "").encode())


def _read(body: bytes, members: tuple[str, ...]) -> dict[str, str] | None:
    try:
        values = json.loads(body)
    except ValueError:
        return None
    if not isinstance(values, dict):
        return None
    found = {name: values.get(name) for name in members}
    is_text = all(isinstance(value, str) and "\0" not in value for value in found.values())
    return {name: str(value) for name, value in found.items()} if is_text else None


def _refusal(status: int, code: str, detail: str) -> JsonResponse:
    return JsonResponse({"code": code, "detail": detail}, status=status)


@from_gateway("from", "text")
def text_replies(values: dict[str, str], key: str, at: datetime) -> dict[str, Any]:
    """Take in one text. ``answer`` is what the gateway may send back, "" for nothing."""
    taken = replies.receive(values["from"], values["text"], reply_id=key, at=at)
    return {"meaning": taken.meaning, "known": taken.customers > 0, "answer": taken.answer}


@from_gateway("channel", "to", "why")
def failures(values: dict[str, str], key: str, at: datetime) -> dict[str, Any]:
    """An e-mail bounced for good or a number failed: the channel rests, the office is told."""
    if values["channel"] not in Consent.Channel.values:
        return {"stopped": 0}
    stopped = replies.delivery_failed(values["channel"], values["to"], why=values["why"])
    return {"stopped": stopped}
