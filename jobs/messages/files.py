"""Messages as files, one per id, whole or not there: what the file gateways write."""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

_NOT_IN_NAMES = re.compile(r"[^A-Za-z0-9_.-]")


def write_once(path: Path, content: bytes) -> bool:
    """Write a file that is not there yet; return False, and change nothing, where it is.

    Written aside and linked into place: whoever dies on the way leaves no half message.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    aside = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    aside.write_bytes(content)
    try:
        os.link(aside, path)
    except FileExistsError:
        return False
    finally:
        aside.unlink()
    return True


def mail_path(message_id: str) -> Path:
    """Return where the e-mail with this Message-ID (without < >) lies."""
    name = _NOT_IN_NAMES.sub("_", message_id.partition("@")[0])[:120]
    return Path(settings.EMAIL_FILE_PATH) / f"{name}.eml"


class EmailBackend(BaseEmailBackend):
    """A mail backend for machines without a mail server: one ``.eml`` file per Message-ID."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        for message in email_messages:
            mail = message.message()
            write_once(mail_path(str(mail["Message-ID"]).strip("<> ")), mail.as_bytes())
        return len(email_messages)
