"""``manage.py bench reminders``: one message per due reminder, workers killed on the way."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from contextlib import ExitStack
from pathlib import Path
from typing import Any

REMINDERS = 5000
KILLS = 20
SEED = 7
BACKENDS = {"SQLite, ticker": "ticker", "PostgreSQL and Redis, Celery": "celery"}
HEAD = (
    f"{'backend':30} {'due':>6} {'kills':>5} {'messages':>8} {'twice':>5} {'lost':>4} "
    f"{'outside':>7} {'calls':>6} {'again':>5} {'asked':>5} {'seconds':>7} {'per s':>6}"
)


def main(
    data_dir: Path | None, seconds: float | None, limit: int | None
) -> tuple[list[dict[str, Any]], str]:
    """Run both backends with ``limit`` reminders (5,000); return rows and text.

    ``seconds`` is not used: a run ends when nothing is left to send.
    """
    count = limit or REMINDERS
    rows = [
        {"backend": name, "due": count, **measure(kind, count, KILLS, SEED)}
        for name, kind in BACKENDS.items()
        if kind == "ticker" or _has_servers()
    ]
    lines = [_line(row) for row in rows]
    notes = [
        "",
        "outside: hand-overs outside the hours of the homeowner's place and state, both days on",
        "which clocks change; calls: hand-overs begun; again: of these with an id that had been",
        "begun before (the gateway keeps one); asked: settled by asking the gateway after a kill.",
    ]
    if len(rows) < len(BACKENDS):
        notes.append("PostgreSQL or Redis not found: that part is left out.")
    return rows, "\n".join([HEAD, *lines, *notes])


def _line(row: dict[str, Any]) -> str:
    rate = row["messages"] / row["seconds"]
    return (
        f"{row['backend']:30} {row['due']:>6} {row['kills']:>5} {row['messages']:>8} "
        f"{row['twice']:>5} {row['lost']:>4} {row['outside_hours']:>7} {row['hand_overs']:>6} "
        f"{row['repeated_hand_overs']:>5} {row['settled_by_asking']:>5} {row['seconds']:>7.1f} "
        f"{rate:>6.0f}" + (f"  VIOLATED: {', '.join(row['violations'])}" * bool(row["violations"]))
    )


def _has_servers() -> bool:
    from tests import servers

    return bool(servers.find_postgres() and servers.find_redis())


def measure(kind: str, count: int, kills: int, seed: int) -> dict[str, Any]:
    """Run the proof in processes of its own, with a database (and broker) of its own."""
    from tests import servers

    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="reminders-")))
        extra = {"STATE_DIR": str(folder), "DATABASE_URL": f"sqlite:///{folder / 'bench.sqlite3'}"}
        extra |= {"CELERY_BROKER_URL": "", "QUEUE_MODE": "ticker"}
        if kind == "celery":
            extra["DATABASE_URL"] = stack.enter_context(servers.postgres())
            extra["CELERY_BROKER_URL"] = stack.enter_context(servers.redis())
            extra["QUEUE_MODE"] = "celery"
        extra |= {"EMAIL_BACKEND": "jobs.messages.files.EmailBackend", "TEXT_GATEWAY": "file"}
        extra |= {"DEBUG": "true", "LOG_LEVEL": "ERROR", "SITE_URL": "https://tautline.example.org"}
        conduct = [sys.executable, "-m", "jobs.reminder_bench.conductor", kind, str(folder)]
        numbers = [str(count), str(kills), str(seed)]
        subprocess.run(  # noqa: S603 - our own module
            [*conduct, *numbers],
            check=True,
            cwd=Path(__file__).parent.parent,
            env={**os.environ, **extra},
        )
        result: dict[str, Any] = json.loads((folder / "result.json").read_text())
        return result
