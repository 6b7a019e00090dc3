"""A POST that is sent twice has its effect once (Idempotency-Key, IETF draft).

The answer is remembered in the very transaction of the effect, so a crash leaves both or
neither: after a crash before the commit the retry runs, after it the retry is answered from
the row. Refusals (4xx) and failures (5xx) are rolled back and not remembered, so they do not
burn the key.

While the first request runs, a second one with its key is answered 409 with Retry-After. On
PostgreSQL a session advisory lock says so, which dies with its connection and needs no lease.
SQLite has one writer at a time and normally one process: a set in this process says so, and a
second process simply waits for the write lock and then finds the row.
"""

from __future__ import annotations

import hashlib
import json
import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from django.db import InterfaceError, OperationalError, connection
from django.http import HttpResponse, HttpResponseBase
from django.utils import timezone
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api import sealed
from contractor.api.models.idempotency import RememberedAnswer
from contractor.api.refusals import (
    IdempotencyKeyInvalidError,
    IdempotencyKeyMissingError,
    IdempotencyKeyReusedError,
    StillRunningError,
)
from contractor.api.transactions import joined_transaction

T = TypeVar("T")
KEPT = timedelta(hours=24)
KEPT_HEADERS = ("Location", "ETag", "Content-Location", "Link")
_KEY = re.compile(r'"((?:[\x20\x21\x23-\x5b\x5d-\x7e]|\\["\\])*)"|([\x21\x23-\x7e]+)')
_running: set[str] = set()
_running_guard = threading.Lock()


@dataclass(frozen=True)
class Attempt:
    """One POST: who sends what to where under which key."""

    principal: str
    method: str
    path: str
    key: str
    fingerprint: str

    @property
    def name(self) -> str:
        return "\n".join((self.principal, self.method, self.path, self.key))


class Undone(Exception):
    """Carries an answer out of the transaction, which is rolled back: a refusal, a dry run."""

    def __init__(self, response: HttpResponseBase) -> None:
        super().__init__()
        self.response = response


def attempt_of(request: Request, principal: str) -> Attempt:
    """Read the key and fingerprint the body and query. Raises the key errors (400)."""
    return Attempt(
        principal=principal,
        method=str(request.method),
        path=request.path,
        key=_key_of(request),
        fingerprint=_fingerprint(request),
    )


def once(
    attempt: Attempt,
    prepare: Callable[[], T],
    act: Callable[[T], HttpResponseBase],
    *,
    seal: bool = False,
    now: Callable[[], datetime] = timezone.now,
) -> HttpResponseBase:
    """Return the answer of ``act(prepare())``, or the remembered answer of an earlier attempt.

    ``prepare`` runs before the transaction (solvers belong there), ``act`` inside it. Raises
    IdempotencyKeyReusedError for another body, StillRunningError while the first one runs.
    """
    with _running_once(attempt):
        if (kept := _find(attempt, now())) is not None:
            return _replay(kept, attempt)
        prepared = prepare()
        try:
            with joined_transaction():
                if (kept := _find(attempt, now())) is not None:
                    return _replay(kept, attempt)
                return _act_and_keep(attempt, lambda: act(prepared), seal=seal, at=now())
        except Undone as undone:
            return undone.response


def forget_old(*, now: datetime) -> int:
    """Delete answers older than 24 hours; return how many."""
    return RememberedAnswer.objects.filter(created_at__lt=now - KEPT).delete()[0]


def _act_and_keep(
    attempt: Attempt, act: Callable[[], HttpResponseBase], *, seal: bool, at: datetime
) -> HttpResponseBase:
    response = act()
    if response.status_code >= 400:
        raise Undone(response)
    body = JSONRenderer().render(response.data).decode() if isinstance(response, Response) else ""
    same_key = RememberedAnswer.objects.filter(**_identity(attempt))
    same_key.delete()  # only an expired one can be left here
    kept = RememberedAnswer.objects.create(
        **_identity(attempt),
        fingerprint=attempt.fingerprint,
        status=response.status_code,
        headers={name: response[name] for name in KEPT_HEADERS if name in response},
        body=sealed.seal(body) if seal else body,
        is_sealed=seal,
        created_at=at,
    )
    return _replay(kept, attempt)


def _identity(attempt: Attempt) -> dict[str, str]:
    return {
        "principal": attempt.principal,
        "method": attempt.method,
        "path": attempt.path,
        "key": attempt.key,
    }


def _find(attempt: Attempt, now: datetime) -> RememberedAnswer | None:
    rows = RememberedAnswer.objects.filter(**_identity(attempt), created_at__gte=now - KEPT)
    return rows.first()


def _replay(kept: RememberedAnswer, attempt: Attempt) -> HttpResponse:
    if kept.fingerprint != attempt.fingerprint:
        raise IdempotencyKeyReusedError(
            "This Idempotency-Key was used for a request with another body or query.",
            remedy="Use a new key for every new request; repeat a key only to retry.",
        )
    body = sealed.unseal(kept.body) if kept.is_sealed else kept.body
    headers = dict(kept.headers)
    return HttpResponse(
        body.encode(),
        status=kept.status,
        headers=headers,
        content_type="application/json" if body else None,
    )


def _key_of(request: Request) -> str:
    header = request.headers.get("Idempotency-Key", "").strip()
    if not header:
        raise IdempotencyKeyMissingError(
            "A POST must carry a key that names this one intended effect.",
            remedy='Send Idempotency-Key: "<a fresh UUID>" and repeat it when you retry.',
        )
    found = _KEY.fullmatch(header)
    key = (found[1] or found[2] or "") if found else ""
    if not 1 <= len(key) <= 200:
        raise IdempotencyKeyInvalidError(
            "The key is not 1 to 200 printable ASCII characters.",
            remedy="Use a UUID.",
        )
    return key


def _fingerprint(request: Request) -> str:
    digest = hashlib.sha256(request.META.get("QUERY_STRING", "").encode())
    if not (request.content_type or "").startswith("multipart/"):
        digest.update(b"\n" + request._request.body)
        return digest.hexdigest()
    fields = {name: request.POST.getlist(name) for name in sorted(request.POST)}
    digest.update(json.dumps(fields).encode())
    for name, upload in sorted(request.FILES.items()):
        digest.update(name.encode())
        for chunk in upload.chunks():
            digest.update(chunk)
        upload.seek(0)
    return digest.hexdigest()


@contextmanager
def _running_once(attempt: Attempt) -> Iterator[None]:
    """Hold the mark "this key runs" for the time of the block. Raises StillRunningError."""
    is_ours = _take(attempt)
    if not is_ours:
        raise StillRunningError(
            "The first request with this Idempotency-Key is still being worked on.",
            remedy="Wait as long as Retry-After says, then send the same request again.",
        )
    try:
        yield
    finally:
        _give_back(attempt)


def _take(attempt: Attempt) -> bool:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock(%s)", [_lock_number(attempt)])
            return bool(cursor.fetchone()[0])
    with _running_guard:
        if attempt.name in _running:
            return False
        _running.add(attempt.name)
        return True


def _give_back(attempt: Attempt) -> None:
    if connection.vendor != "postgresql":
        with _running_guard:
            _running.discard(attempt.name)
        return
    # A lost connection has let go of the lock already.
    with suppress(OperationalError, InterfaceError), connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_unlock(%s)", [_lock_number(attempt)])


def _lock_number(attempt: Attempt) -> int:
    digest = hashlib.sha256(attempt.name.encode()).digest()
    return int.from_bytes(digest[:8], "big", signed=True)
