"""Logs hold keys, not people; pages and answers carry their protective headers."""

from __future__ import annotations

import logging
import re
from typing import Any

import pytest

from contractor.api.privacy import PrivateDataFilter, redact
from tests.conftest import ApiTester

SECRETS = [
    "Authorization: Bearer tl_abcdefghijklmnop",
    "token tl_abcdefghijklmnopqrstuvwxyz012345",
    "whsec_c2VjcmV0c2VjcmV0c2VjcmV0",
    "Cookie: sessionid=abcdef123456; csrftoken=xyz",
    "{'password': 'swordfish', 'x': 1}",
    "mail to pat.doe@example.org failed",
    "call (555) 555-0123 now",
    "call +1 555-555-0123",
    '"street": "12 Elm Street"',
    "GET /r/Zm9vYmFyYmF6cXV4Zm9vYmFyYmF6cXV4Zm9v/ 200",
]
GIVEN_AWAY = re.compile(r"abcdef|c2VjcmV0|swordfish|pat\.doe|0123|Elm|Zm9v|xyz")


@pytest.mark.parametrize("text", SECRETS)
def test_secrets_and_people_are_cut_out(text: str) -> None:
    assert not GIVEN_AWAY.search(redact(text)), redact(text)


@pytest.mark.parametrize(
    "text", ["kit 17 reserved at 2026-11-25T09:30:00Z", "GET /api/v1/kits/17/reserve 409"]
)
def test_keys_and_times_stay(text: str) -> None:
    assert redact(text) == text


def test_a_traceback_is_cut_as_well() -> None:
    try:
        raise ValueError("pat.doe@example.org")
    except ValueError as error:
        info = (ValueError, error, error.__traceback__)
    record = logging.LogRecord("x", 40, "f", 1, "failed for %s", ("tl_abcdefghijkl",), info)
    assert PrivateDataFilter().filter(record)
    text = logging.Formatter("%(message)s").format(record)
    assert not GIVEN_AWAY.search(text)
    assert "ValueError" in text


def test_json_answers_may_load_nothing(owner: ApiTester) -> None:
    answer = owner.get("/api/v1/me")
    assert answer["Content-Security-Policy"] == "default-src 'none'; frame-ancestors 'none'"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "geolocation=()" in answer["Permissions-Policy"]
    assert answer["Cache-Control"] == "private, no-cache"


def test_the_documentation_page_asks_nobody_else(anonymous: ApiTester) -> None:
    answer = anonymous.get("/api/v1/docs")
    page = answer.content.decode()
    policy = answer["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert not re.search(r'(?:src|href)="(?:https?:)?//', page)
    nonces: Any = set(re.findall(r'nonce="([^"]+)"', page))
    assert len(nonces) == 1
    assert f"'nonce-{nonces.pop()}'" in policy
    assert anonymous.get("/api/v1/docs")["Content-Security-Policy"] != policy
