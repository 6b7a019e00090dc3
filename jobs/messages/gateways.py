"""How a message leaves the building. Every gateway takes ``message_id`` as idempotency key."""

from __future__ import annotations

import hashlib
import hmac
import json
import sys
import urllib.error
import urllib.request
from dataclasses import asdict, dataclass
from email.utils import parseaddr
from pathlib import Path
from typing import Protocol

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.mail import EmailMultiAlternatives

from jobs.messages.files import mail_path, write_once

TIMEOUT_S = 15


@dataclass(frozen=True)
class Message:
    """``message_id`` is the same on every try; ``headers`` matter to e-mail only."""

    message_id: str
    channel: str
    to: str
    subject: str
    text: str
    html: str
    headers: dict[str, str]


class RefusedError(Exception):
    """The gateway will never deliver to this address."""


class BusyError(Exception):
    """The gateway took nothing this time."""


class Gateway(Protocol):
    def send(self, message: Message) -> None:
        """Hand over a message. RefusedError and BusyError mean that it was not taken."""

    def was_sent(self, message_id: str) -> bool | None:
        """Whether the gateway has this message; None when it cannot say."""


class EmailGateway:
    """Django's mail backend. SMTP cannot be asked afterwards; our files can."""

    def send(self, message: Message) -> None:
        domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
        mail = EmailMultiAlternatives(
            message.subject,
            message.text,
            to=[message.to],
            headers={"Message-ID": f"<{message.message_id}@{domain}>", **message.headers},
        )
        mail.attach_alternative(message.html, "text/html")
        try:
            mail.send()
        except OSError as error:
            raise BusyError(f"mail server: {error}") from error

    def was_sent(self, message_id: str) -> bool | None:
        if settings.EMAIL_BACKEND != "jobs.messages.files.EmailBackend":
            return None
        return mail_path(message_id).exists()


class FileTextGateway:
    """Text messages as files, one per id: a second hand-over changes nothing."""

    def send(self, message: Message) -> None:
        content = json.dumps({"to": message.to, "text": message.text}, ensure_ascii=False)
        write_once(self._path(message.message_id), content.encode())

    def was_sent(self, message_id: str) -> bool | None:
        return self._path(message_id).exists()

    def _path(self, message_id: str) -> Path:
        return Path(settings.STATE_DIR) / "texts" / f"{message_id}.json"


class ConsoleTextGateway:
    def send(self, message: Message) -> None:
        sys.stdout.write(f"text to {message.to}: {message.text}\n")

    def was_sent(self, message_id: str) -> bool | None:
        return None


class HttpTextGateway:
    """Posts JSON, signed with HMAC-SHA256, to TEXT_GATEWAY_URL; GET .../<id> asks about one.

    The receiver answers 2xx (taken; again for a repeated id), 410 or 422 (never deliverable).
    """

    def send(self, message: Message) -> None:
        body = json.dumps({"id": message.message_id, "to": message.to, "text": message.text})
        status = self._call("POST", "", body.encode(), message.message_id)
        if status in {410, 422}:
            raise RefusedError(f"text gateway answered {status}")
        if not 200 <= status < 300:
            raise BusyError(f"text gateway answered {status}")

    def was_sent(self, message_id: str) -> bool | None:
        try:
            status = self._call("GET", f"/{message_id}", b"", message_id)
        except BusyError:
            return None
        return {200: True, 404: False}.get(status)

    def _call(self, method: str, path: str, body: bytes, key: str) -> int:
        secret = settings.TEXT_GATEWAY_SECRET.encode()
        signature = hmac.new(secret, key.encode() + b"." + body, hashlib.sha256).hexdigest()
        headers = {
            "Content-Type": "application/json",
            "Idempotency-Key": key,
            "Signature": f"hmac-sha256={signature}",
        }
        request = urllib.request.Request(  # noqa: S310 - the operator names the address
            settings.TEXT_GATEWAY_URL + path, data=body or None, headers=headers, method=method
        )
        try:
            with urllib.request.urlopen(request, timeout=TIMEOUT_S) as answer:  # noqa: S310
                return int(answer.status)
        except urllib.error.HTTPError as error:
            return error.code
        except OSError as error:
            raise BusyError(f"text gateway: {error}") from error


TEXT_GATEWAYS: dict[str, type[Gateway]] = {
    "console": ConsoleTextGateway,
    "file": FileTextGateway,
    "http": HttpTextGateway,
}


def gateway_for(channel: str) -> Gateway:
    """Return the gateway of a channel ("email", "text")."""
    if channel == "email":
        return EmailGateway()
    if settings.TEXT_GATEWAY not in TEXT_GATEWAYS:
        raise ImproperlyConfigured(
            f"TEXT_GATEWAY is {settings.TEXT_GATEWAY!r}; use one of {sorted(TEXT_GATEWAYS)}."
        )
    return TEXT_GATEWAYS[settings.TEXT_GATEWAY]()


def as_dict(message: Message) -> dict[str, object]:
    return asdict(message)
