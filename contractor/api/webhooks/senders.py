"""Threads that send: one endpoint at a time each, so that a slow receiver delays only itself."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor, wait

from django.db import connections

THREADS = 8


class Senders:
    """A pool that never works on one endpoint twice at a time."""

    def __init__(self, work: Callable[[int], object], *, threads: int = THREADS) -> None:
        self._work = work
        self._threads = threads
        self._guard = threading.Lock()
        self._busy: dict[int, Future[None]] = {}
        self._pool: ThreadPoolExecutor | None = None

    def start(self, endpoints: Iterable[int]) -> int:
        """Begin to send for the endpoints that are not busy; return how many began."""
        begun = 0
        with self._guard:
            self._pool = self._pool or ThreadPoolExecutor(self._threads, "webhooks")
            for endpoint in endpoints:
                if endpoint not in self._busy:
                    self._busy[endpoint] = self._pool.submit(self._run, endpoint)
                    begun += 1
        return begun

    def finish(self, timeout_s: float) -> None:
        """Wait for what is under way; for orderly ends and tests."""
        with self._guard:
            running = list(self._busy.values())
        wait(running, timeout=timeout_s)

    def _run(self, endpoint: int) -> None:
        try:
            self._work(endpoint)
        finally:
            with self._guard:
                self._busy.pop(endpoint, None)
            connections.close_all()
