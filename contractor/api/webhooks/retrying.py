"""When the next attempt is due: the example schedule of Standard Webhooks, a little over 3 days."""

from __future__ import annotations

import zlib
from datetime import timedelta

from contractor.api.webhooks.sender import Answer

WAITS: tuple[timedelta, ...] = (
    timedelta(seconds=5),
    timedelta(minutes=5),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=5),
    timedelta(hours=10),
    timedelta(hours=14),
    timedelta(hours=20),
    timedelta(hours=24),
)
"""The wait after the first, second, ... failed attempt; after the tenth nothing follows."""
PAUSE_AFTER = timedelta(days=3)
LONGEST_WISH = timedelta(days=1)
PATIENCE = timedelta(seconds=60)
_OVERLOADED = frozenset({429, 502, 503, 504})


def next_wait(attempts: int, message_id: str) -> timedelta | None:
    """Return the wait after ``attempts`` failures, up to a tenth longer; None when given up.

    The jitter comes from the message, so that a crowd of messages spreads and a test is exact.
    """
    if attempts > len(WAITS):
        return None
    share = zlib.crc32(f"{message_id} {attempts}".encode()) / 2**32
    return WAITS[attempts - 1] * (1 + share / 10)


def hold(answer: Answer) -> timedelta | None:
    """Return how long the whole endpoint shall be left alone."""
    if answer.retry_after_s is not None:
        return min(timedelta(seconds=answer.retry_after_s), LONGEST_WISH)
    return PATIENCE if answer.http_status in _OVERLOADED else None
