"""Seal secrets that must be read again: webhook secrets, answers that show a secret once.

Encrypt-then-MAC from the standard library: a SHAKE256 key stream (FIPS 202) over a fresh
128 bit nonce, and HMAC-SHA256 over nonce and ciphertext. Keys come from SECRET_KEY;
SECRET_KEY_FALLBACKS still open what older keys sealed.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import os

from django.conf import settings

_NONCE, _TAG = 16, 32


class BrokenSealError(ValueError):
    """The text was changed, or sealed with a key that is gone."""


def seal(text: str) -> str:
    """Return ``text`` sealed with the current key."""
    nonce = os.urandom(_NONCE)
    cipher = _stream(_key(str(settings.SECRET_KEY), b"stream"), nonce, text.encode())
    tag = _tag(str(settings.SECRET_KEY), nonce + cipher)
    return base64.urlsafe_b64encode(nonce + cipher + tag).decode()


def unseal(sealed: str) -> str:
    """Return the text; raises BrokenSealError."""
    raw = base64.urlsafe_b64decode(sealed.encode())
    body, tag = raw[:-_TAG], raw[-_TAG:]
    for secret in map(str, (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)):
        if hmac.compare_digest(_tag(secret, body), tag):
            return _stream(_key(secret, b"stream"), body[:_NONCE], body[_NONCE:]).decode()
    raise BrokenSealError("No key of this site opens this seal.")


def _key(secret: str, purpose: bytes) -> bytes:
    return hmac.new(secret.encode(), b"tautline seal " + purpose, hashlib.sha256).digest()


def _stream(key: bytes, nonce: bytes, data: bytes) -> bytes:
    if not data:
        return b""
    pad = hashlib.shake_256(key + nonce).digest(len(data))
    mixed = int.from_bytes(data, "big") ^ int.from_bytes(pad, "big")
    return mixed.to_bytes(len(data), "big")


def _tag(secret: str, body: bytes) -> bytes:
    return hmac.new(_key(secret, b"tag"), body, hashlib.sha256).digest()
