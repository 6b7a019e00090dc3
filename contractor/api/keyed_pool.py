"""Threads that work by key: never twice on one key at a time, so a slow key delays only itself."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor, wait

from django.db import connections

log = logging.getLogger(__name__)


class KeyedPool:
    """Runs ``work(key)``; a failure is logged, and the row of the key stays due."""

    def __init__(self, work: Callable[[int], object], *, threads: int, name: str) -> None:
        self._work = work
        self._threads = threads
        self._name = name
        self._guard = threading.Lock()
        self._busy: dict[int, Future[None]] = {}
        self._pool: ThreadPoolExecutor | None = None

    def start(self, keys: Iterable[int]) -> int:
        """Begin to work on the keys that are not busy; return how many began."""
        begun = 0
        with self._guard:
            self._pool = self._pool or ThreadPoolExecutor(self._threads, self._name)
            for key in keys:
                if key not in self._busy:
                    self._busy[key] = self._pool.submit(self._run, key)
                    self._busy[key].add_done_callback(self._report)
                    begun += 1
        return begun

    def finish(self, timeout_s: float) -> None:
        """Wait for what is under way; for orderly ends and tests."""
        with self._guard:
            running = list(self._busy.values())
        wait(running, timeout=timeout_s)

    def _run(self, key: int) -> None:
        try:
            self._work(key)
        finally:
            connections.close_all()
            with self._guard:
                self._busy.pop(key, None)

    def _report(self, future: Future[None]) -> None:
        if not future.cancelled() and (error := future.exception()) is not None:
            log.error("%s: work failed; its row stays due: %r", self._name, error)
