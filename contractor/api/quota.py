"""Rate limits, announced as RateLimit-Policy and RateLimit (IETF draft-10, September 2025).

A fixed window per person, token or address. The counter is an atomic increment in the cache:
one for all processes with Redis, one per process without. When the counter cannot be reached
requests pass: a limit protects the service and must not become its weakest part.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.core.cache import cache
from redis.exceptions import RedisError
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from contractor.errors import DomainError

log = logging.getLogger(__name__)
_BLIND_FOR_S = 5.0
_blind = {"until": 0.0}


class QuotaExceededError(DomainError):
    code = "quota-exceeded"  # the name that the draft registers
    title = "Too many requests"
    status = 429

    def __init__(self, policy: str, wait_s: int) -> None:
        super().__init__(
            "The number of requests in this window is used up.",
            remedy="Wait as long as Retry-After says.",
            **{"violated-policies": [policy]},
        )
        self.retry_after_s = wait_s


@dataclass(frozen=True)
class Policy:
    name: str
    quota: int
    window_s: int


@dataclass(frozen=True)
class Standing:
    """What is left of a policy, and in how many seconds the window ends."""

    policy: Policy
    remaining: int
    reset_s: int

    def headers(self) -> dict[str, str]:
        policy = self.policy
        return {
            "RateLimit-Policy": f'"{policy.name}";q={policy.quota};w={policy.window_s}',
            "RateLimit": f'"{policy.name}";r={self.remaining};t={self.reset_s}',
        }


class Quota(BaseThrottle):
    """Counts the request and keeps the standing for the answer's headers."""

    clock: Callable[[], float] = time.time

    def allow_request(self, request: Request, view: Any) -> bool:
        if request.user:
            who = view.who.actor if hasattr(view, "who") else f"user:{request.user.pk}"
            policy = read_policy("user", settings.RATE_LIMIT)
        else:
            who = f"address:{self.get_ident(request)}"
            policy = read_policy("address", settings.RATE_LIMIT_ANONYMOUS)
        now = type(self).clock()
        window, spent = divmod(int(now), policy.window_s)
        count = _count(f"quota:{who}:{window}", policy.window_s)
        standing = Standing(policy, max(0, policy.quota - count), policy.window_s - spent)
        request._request.quota = standing  # type: ignore[attr-defined]
        if count > policy.quota:
            raise QuotaExceededError(policy.name, standing.reset_s)
        return True


def read_policy(name: str, text: str) -> Policy:
    """Return the policy of "600/60": 600 requests in 60 seconds."""
    quota, _, window = text.partition("/")
    return Policy(name, int(quota), int(window))


def quota_headers(request: Request) -> dict[str, str]:
    """Return the headers for the answer; none where nothing was counted."""
    standing: Standing | None = getattr(request._request, "quota", None)
    return standing.headers() if standing else {}


def _count(key: str, window_s: int) -> int:
    """Return the number of requests in this window, this one included; 0 when unknown."""
    if time.monotonic() < _blind["until"]:
        return 0
    try:
        cache.add(key, 0, timeout=window_s + 5)
        return int(cache.incr(key))
    except ValueError:
        return 1  # the key ran out between the two calls: a new window
    except (RedisError, OSError) as error:
        _blind["until"] = time.monotonic() + _BLIND_FOR_S
        log.warning("rate limits are off for %g s: %r", _BLIND_FOR_S, error)
        return 0
