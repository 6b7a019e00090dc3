"""Nudges and sweeps: the database is the queue, messages only say "look now".

``nudge`` asks for a task after the commit. With a broker Celery carries it; without one the
ticker thread of this process runs it; a lost nudge is found by the next sweep. A sweep is a
task without arguments that finds due rows; Celery beat or the ticker calls it again and again.
Every task may run twice.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from typing import Any, TypeVar, cast

from django.conf import settings
from django.db import OperationalError, connections, transaction
from django.utils.module_loading import import_string

log = logging.getLogger(__name__)
F = TypeVar("F", bound=Callable[..., None])


@dataclass(frozen=True)
class Sweep:
    task: str
    every: timedelta


SWEEPS: dict[str, Sweep] = {}
_pending: deque[tuple[str, dict[str, Any]]] = deque()


def task(function: F) -> F:
    """Make ``function`` a Celery task where Celery carries the nudges.

    Elsewhere it stays as it is, and nothing pays for importing Celery. A database that is busy
    is tried again: by Celery's retries, or by the next sweep.
    """
    if settings.QUEUE_MODE != "celery":
        return function
    from celery import shared_task

    retried = shared_task(autoretry_for=(OperationalError,), retry_backoff=True, max_retries=5)
    return cast(F, retried(function))


def register_sweep(task: str, *, every: timedelta) -> None:
    """Have ``task`` (dotted path of a task without arguments) called about ``every`` so often."""
    SWEEPS[task] = Sweep(task, every)


def nudge(task: str, **kwargs: Any) -> None:
    """Run ``task`` soon after the commit. Never fails for want of a broker."""
    transaction.on_commit(partial(_send, task, kwargs), robust=True)


def _send(task: str, kwargs: dict[str, Any]) -> None:
    if settings.QUEUE_MODE != "celery":
        _pending.append((task, kwargs))
        return
    from kombu.exceptions import OperationalError as BrokerError

    try:
        import_string(task).apply_async(kwargs=kwargs, retry=False)
    except (BrokerError, OSError) as error:
        log.warning("nudge %s was not sent (%s); the sweep will find its row", task, error)


def pending() -> list[tuple[str, dict[str, Any]]]:
    """Return the nudges that wait in this process (ticker and manual mode)."""
    return list(_pending)


def drain(*, limit: int = 1000) -> int:
    """Run waiting nudges in this thread, oldest first; return how many ran."""
    done = 0
    while _pending and done < limit:
        task, kwargs = _pending.popleft()
        import_string(task)(**kwargs)
        done += 1
    return done


class Ticker:
    """Does due work inside the web process when there is no broker.

    One worker thread: a task that raises is logged and the next one still runs.
    """

    def __init__(self, *, clock: Callable[[], float] = time.monotonic, pause_s: float = 0.5):
        self._clock = clock
        self._pause_s = pause_s
        self._stop = threading.Event()
        self._next: dict[str, float] = {}
        self._thread = threading.Thread(target=self._loop, name="ticker", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()
        self._thread.join(timeout=30)

    def _loop(self) -> None:
        with ThreadPoolExecutor(max_workers=1, thread_name_prefix="due-work") as worker:
            while not self._stop.wait(self._pause_s):
                for task, kwargs in self._due():
                    error = worker.submit(_run_once, task, kwargs).exception()
                    if error is not None:
                        log.error("task %s failed; its row stays due: %r", task, error)

    def _due(self) -> list[tuple[str, dict[str, Any]]]:
        now = self._clock()
        work = [_pending.popleft() for _ in range(len(_pending))]
        for sweep in SWEEPS.values():
            if now >= self._next.get(sweep.task, now):
                self._next[sweep.task] = now + sweep.every.total_seconds()
                work.append((sweep.task, {}))
        return work


def _run_once(task: str, kwargs: dict[str, Any]) -> None:
    try:
        import_string(task)(**kwargs)
    finally:
        connections.close_all()
