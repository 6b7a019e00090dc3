"""Signatures of Standard Webhooks 1.0.0: HMAC-SHA256 over id, time of the attempt and body."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from collections.abc import Sequence

PREFIX = "whsec_"


def new_secret() -> str:
    """Return ``whsec_`` and 32 random bytes in base64 (the standard asks for 24 to 64)."""
    return PREFIX + base64.b64encode(secrets.token_bytes(32)).decode()


def signed_headers(
    message_id: str, timestamp: int, body: bytes, signing_secrets: Sequence[str]
) -> dict[str, str]:
    """Return the three headers; during a rotation every secret signs, newest first."""
    content = f"{message_id}.{timestamp}.".encode() + body
    signatures = [_signature(content, secret) for secret in signing_secrets]
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signatures),
    }


def _signature(content: bytes, secret: str) -> str:
    key = base64.b64decode(secret.removeprefix(PREFIX))
    digest = hmac.new(key, content, hashlib.sha256).digest()
    return "v1," + base64.b64encode(digest).decode()
