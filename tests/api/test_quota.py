"""draft-ietf-httpapi-ratelimit-headers-10: RateLimit-Policy, RateLimit; RFC 9110 Retry-After."""

from __future__ import annotations

import re
from typing import Any

import pytest
from redis.exceptions import ConnectionError as RedisGoneError

from contractor.api import quota
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch) -> dict[str, float]:
    now = {"at": 1_800_000_000.0}  # the start of a minute
    monkeypatch.setattr(quota.Quota, "clock", staticmethod(lambda: now["at"]))
    monkeypatch.setitem(quota._blind, "until", 0.0)
    return now


def test_each_answer_says_what_is_left(owner: ApiTester, settings: Any) -> None:
    settings.RATE_LIMIT = "600/60"
    answer = owner.get("/api/v1/me")
    assert answer["RateLimit-Policy"] == '"user";q=600;w=60'
    assert answer["RateLimit"] == '"user";r=599;t=60'
    assert owner.get("/api/v1/branches/0")["RateLimit"] == '"user";r=598;t=60'


def test_one_too_many_is_429_until_the_window_ends(
    owner: ApiTester, office: ApiTester, settings: Any, _clock: dict[str, float]
) -> None:
    settings.RATE_LIMIT = "3/60"
    _clock["at"] += 45
    assert [owner.get("/api/v1/me").status_code for _ in range(3)] == [200] * 3
    refused = owner.get("/api/v1/me")
    document = assert_problem(refused, 429, "quota-exceeded")
    assert document["violated-policies"] == ["user"]
    (reset,) = re.findall(r"t=(\d+)", refused["RateLimit"])
    assert int(refused["Retry-After"]) >= int(reset) == 15
    assert office.get("/api/v1/me").status_code == 200  # others have a window of their own
    _clock["at"] += 15
    assert owner.get("/api/v1/me").status_code == 200


def test_addresses_without_a_token_have_their_own_limit(
    anonymous: ApiTester, settings: Any
) -> None:
    settings.RATE_LIMIT_ANONYMOUS = "1/60"
    first = anonymous.get("/api/v1/problems")
    assert first["RateLimit-Policy"] == '"address";q=1;w=60'
    assert_problem(anonymous.get("/api/v1/problems"), 429, "quota-exceeded")
    spoofed = anonymous.get("/api/v1/problems", HTTP_X_FORWARDED_FOR="203.0.113.7")
    assert_problem(spoofed, 429, "quota-exceeded")  # the header is not believed
    assert anonymous.get("/api/v1/health").status_code == 200  # load balancers never run out


def test_without_the_counter_requests_pass(
    owner: ApiTester, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.RATE_LIMIT = "1/60"
    calls: list[str] = []

    def gone(key: str, *_: Any, **__: Any) -> None:
        calls.append(key)
        raise RedisGoneError

    monkeypatch.setattr("contractor.api.quota.cache.add", gone)
    assert [owner.get("/api/v1/me").status_code for _ in range(3)] == [200] * 3
    assert len(calls) == 1  # the next seconds do not wait for it again
