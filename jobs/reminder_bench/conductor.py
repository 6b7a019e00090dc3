"""Lets the simulated hours pass, asks for work, kills workers, and counts at the end.

``python -m jobs.reminder_bench.conductor celery|ticker FOLDER COUNT KILLS SEED`` runs with the
database and broker of its environment and writes ``FOLDER/result.json``.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, cast

WORKERS = {"celery": 3, "ticker": 2}
PATIENCE_S = 4.0
LONGEST_S = 1800.0
STEP = timedelta(minutes=30)  # what comes due within it comes due together


class Crowd:
    """The worker processes; one that was killed is followed by a new one."""

    def __init__(self, kind: str, folder: Path, rng: random.Random) -> None:
        self.kind, self.folder, self.rng = kind, folder, rng
        self.kills = 0
        self.workers = [self._start() for _ in range(WORKERS[kind])]

    def _start(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "jobs.reminder_bench.worker", self.kind, str(self.folder)]
        quiet = {**os.environ, "PYTHONWARNINGS": "ignore"}
        return subprocess.Popen(  # noqa: S603 - our own module
            command, stdout=subprocess.DEVNULL, env=quiet, start_new_session=True
        )

    def kill_one(self) -> None:
        """SIGKILL a worker that has come up, and start another in its place."""
        up = [w for w in self.workers if (self.folder / f"up-{w.pid}").exists()]
        if not up:
            return
        victim = self.rng.choice(up)
        os.kill(victim.pid, signal.SIGKILL)
        victim.wait()
        self.workers[self.workers.index(victim)] = self._start()
        self.kills += 1

    def end(self) -> None:
        for worker in self.workers:
            os.kill(worker.pid, signal.SIGKILL)
            worker.wait()


class Conductor:
    def __init__(self, kind: str, folder: Path, count: int, kills: int, seed: int) -> None:
        self.kind, self.folder, self.count = kind, folder, count
        self.rng = random.Random(seed)
        self.kill_marks = [(k + self.rng.random()) * count / kills for k in range(kills)]
        self.ahead = timedelta(0)
        self.progress: tuple[Counter[str], float] = (Counter(), 0.0)
        self.last_ping = 0.0

    def jump_to(self, moment: datetime) -> None:
        """Set the simulated clock: written aside and moved into place, for workers read it."""
        self.ahead = moment - datetime.now(UTC)
        aside = self.folder / "clock.new"
        aside.write_text(str(self.ahead.total_seconds()))
        aside.replace(self.folder / "clock")

    def now(self) -> datetime:
        return datetime.now(UTC) + self.ahead

    def ping(self) -> None:
        """What beat does, unreliably: sometimes twice, sometimes not at all."""
        if self.kind != "celery" or time.monotonic() - self.last_ping < 1.0:
            return
        from jobs import tasks

        self.last_ping = time.monotonic()
        for _ in range(self.rng.choice((0, 1, 1, 1, 2))):
            for task in (tasks.send_due_reminders, tasks.find_silent_sends):
                cast(Any, task).apply_async(retry=False)

    def run(self) -> float:
        """Work until nothing is left; return the real seconds that took."""
        from jobs.reminder_bench.scene import SWITCHES

        self.jump_to(SWITCHES[0] - timedelta(minutes=5))
        crowd = Crowd(self.kind, self.folder, self.rng)
        begun = time.monotonic()
        try:
            while self._step(crowd):
                if time.monotonic() - begun > LONGEST_S:
                    raise TimeoutError(f"not done after {LONGEST_S:.0f} s: {self._statuses()}")
                time.sleep(0.1)
        finally:
            crowd.end()
        self.kills = crowd.kills
        return time.monotonic() - begun

    def _statuses(self) -> Counter[str]:
        from jobs.models import Reminder

        return Counter(Reminder.objects.values_list("status", flat=True))

    def _step(self, crowd: Crowd) -> bool:
        """One look; False once every reminder is settled."""
        self.ping()
        statuses = self._statuses()
        if statuses != self.progress[0]:
            self.progress = (statuses, time.monotonic())
        if self.kill_marks and statuses["sent"] >= self.kill_marks[0]:
            self.kill_marks.pop(0)
            crowd.kill_one()
        if not statuses["due"] and not statuses["sending"]:
            return False
        self._jump_when_idle(statuses)
        return True

    def _jump_when_idle(self, statuses: Counter[str]) -> None:
        from jobs.models import Reminder
        from jobs.services.sending import LEASE

        due = Reminder.objects.filter(status="due").order_by("not_before")
        first = due.values_list("not_before", flat=True).first()
        if first is not None and first <= self.now():
            return
        if not statuses["sending"] and first is not None:
            self.jump_to(max(first, self.now() + STEP))
        elif time.monotonic() - self.progress[1] > PATIENCE_S:
            self.jump_to(self.now() + LEASE)  # their senders are dead; the lease runs out
            self.progress = (statuses, time.monotonic())


def main(kind: str, folder: Path, count: int, kills: int, seed: int) -> dict[str, Any]:
    import django
    from django.core.management import call_command

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    django.setup()
    call_command("migrate", verbosity=0)

    from jobs.reminder_bench.counting import count_up
    from jobs.reminder_bench.scene import build

    expected = build(count)
    conductor = Conductor(kind, folder, count, kills, seed)
    seconds = conductor.run()
    result = {"seconds": round(seconds, 1), "kills": conductor.kills, **count_up(folder, expected)}
    (folder / "result.json").write_text(json.dumps(result))
    return result


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), *(int(word) for word in sys.argv[3:6]))
