"""Keep secrets and personal data out of the logs: keys yes, people no."""

from __future__ import annotations

import logging
import re
import traceback

_RULES: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"\b(tl_|whsec_)[\w+/=-]{6,}"), r"\1..."),
    (re.compile(r"(?i)\b(bearer|token|basic)\s+[\w.+/=~-]{8,}"), r"\1 ..."),
    (re.compile(r"(?i)\b((?:set-)?cookie|authorization)(['\"]?\s*[:=]\s*).+"), r"\1\2..."),
    (
        re.compile(
            r"(?i)(['\"]?\b(?:password|secret|street|address|phone|e-?mail|first_name|last_name"
            r"|sessionid|csrftoken)\b['\"]?\s*[:=]\s*)(?:'[^']*'|\"[^\"]*\"|[^\s,;)}\]]+)"
        ),
        r"\1...",
    ),
    (re.compile(r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+"), "<e-mail>"),
    (
        re.compile(r"(?<![\w.:-])\+?\d{0,2}[\s(.-]{0,2}\d{3}[)\s.-]{1,2}\d{3}[\s.-]\d{4}\b"),
        "<phone>",
    ),
    (re.compile(r"(?<=/)[A-Za-z0-9_-]{32,}(?=[/?\s\"']|$)"), "<token>"),
)


def redact(text: str) -> str:
    """Return ``text`` without tokens, cookies, e-mail addresses and telephone numbers."""
    for pattern, replacement in _RULES:
        text = pattern.sub(replacement, text)
    return text


class PrivateDataFilter(logging.Filter):
    """Rewrites each record before it is formatted, tracebacks included."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = redact(record.getMessage()), None
        if record.exc_info and record.exc_info[0] is not None:
            record.exc_text = redact("".join(traceback.format_exception(*record.exc_info)).rstrip())
        elif record.exc_text:
            record.exc_text = redact(record.exc_text)
        return True
