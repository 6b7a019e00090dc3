"""One worker process of the proof: the product's own tasks under a clock that can jump.

``python -m jobs.reminder_bench.worker celery|ticker FOLDER``; it runs until it is killed.
FOLDER holds ``clock`` (seconds that the simulated clock is ahead) and takes ``handed-<pid>``:
a line per hand-over, written before the gateway is called.
"""

from __future__ import annotations

import os
import random
import sys
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TextIO


class Clock:
    """The simulated time: the real one plus what the ``clock`` file says."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "clock"

    def now(self) -> datetime:
        return datetime.now(UTC) + timedelta(seconds=float(self._file.read_text()))


@dataclass
class WatchedGateway:
    """Hands over to the real gateway, with pauses around it in which a kill may fall."""

    inner: Any
    clock: Clock
    log: TextIO

    def send(self, message: Any) -> None:
        self.log.write(f"{message.message_id} {self.clock.now().isoformat()}\n")
        self.log.flush()
        time.sleep(random.random() * 0.004)
        self.inner.send(message)
        time.sleep(random.random() * 0.004)

    def was_sent(self, message_id: str) -> bool | None:
        return bool(self.inner.was_sent(message_id))


def _watch(folder: Path) -> None:
    from jobs import tasks
    from jobs.messages import gateways

    clock = Clock(folder)
    real = gateways.gateway_for
    log = (folder / f"handed-{os.getpid()}").open("a")
    gateways.gateway_for = lambda channel: WatchedGateway(real(channel), clock, log)
    setattr(tasks, "timezone", clock)  # noqa: B010 - for mypy


def _run_celery() -> None:
    from contractor.celery import app

    options = ["--pool=solo", "--loglevel=ERROR", f"--hostname=bench-{os.getpid()}@localhost"]
    app.worker_main(["worker", *options, "--without-gossip", "--without-mingle"])


def _run_ticker() -> None:
    from contractor import queue

    queue.register_sweep("jobs.tasks.send_due_reminders", every=timedelta(seconds=1))
    queue.register_sweep("jobs.tasks.find_silent_sends", every=timedelta(seconds=1))
    queue.Ticker().start()
    while True:
        time.sleep(60)


def run(kind: str, folder: Path) -> None:
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    django.setup()
    _watch(folder)
    (folder / f"up-{os.getpid()}").touch()
    if kind == "celery":
        _run_celery()
    else:
        _run_ticker()


if __name__ == "__main__":
    run(sys.argv[1], Path(sys.argv[2]))
