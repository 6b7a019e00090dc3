"""``manage.py bench api``: list and detail of jobs beside a bare view of the same rows.

One server process holds both; one client asks in turn, ours and bare, so that a busy machine
slows both alike. The answers are compared before anything is timed.
"""

from __future__ import annotations

import http.client
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
JOBS = 100_000
SECONDS = 8.0
SEED = 7
UNLIMITED = "100000000/60"
Row = dict[str, Any]
HEAD = (
    f"{'database':<12}{'what':<34}{'asked':>7}{'ours p50':>10}{'p95':>8}"
    f"{'bare p50':>10}{'p95':>8}{'ratio p50':>11}{'p95':>6}"
)


@dataclass(frozen=True)
class Server:
    """Where the rows are; ``first`` and ``last`` are the keys of the jobs."""

    port: int
    secret: str
    first: int
    last: int


@dataclass(frozen=True)
class Question:
    """Two addresses that answer the same rows."""

    ours: str
    bare: str


def main(data_dir: Path | None, seconds: float | None, limit: int | None) -> tuple[list[Row], str]:
    """Measure with ``limit`` jobs (100,000), ``seconds`` (8) for each question; rows and text."""
    count, budget = limit or JOBS, seconds or SECONDS
    rows = []
    for database, url in _databases():
        with _serving(url, count) as server:
            rows += [{"database": database, "jobs": count, **row} for row in _ask(server, budget)]
    lines = [f"{count:,} jobs, 50 to a page; milliseconds seen by one client", "", HEAD]
    lines += [_line(row) for row in rows]
    if len({row["database"] for row in rows}) < 2:
        lines.append("PostgreSQL is not installed: not measured.")
    return rows, "\n".join(lines)


def _line(row: Row) -> str:
    return (
        f"{row['database']:<12}{row['what']:<34}{row['asked']:>7}{row['ours_p50_ms']:>10.2f}"
        f"{row['ours_p95_ms']:>8.2f}{row['bare_p50_ms']:>10.2f}{row['bare_p95_ms']:>8.2f}"
        f"{row['ratio_p50']:>11.2f}{row['ratio_p95']:>6.2f}"
    )


def _databases() -> Iterator[tuple[str, str]]:
    from tests import servers

    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        yield "SQLite", f"sqlite:///{folder}/bench.sqlite3"
    if servers.find_postgres():
        with servers.postgres() as url:
            yield "PostgreSQL", url


@contextmanager
def _serving(url: str, count: int) -> Iterator[Server]:
    """Migrate, fill and serve in a process of its own; end it afterwards."""
    env = {**os.environ, "DATABASE_URL": url, "DEBUG": "false", "HTTPS_ONLY": "false"}
    env |= {"SECRET_KEY": "only-for-a-database-that-is-thrown-away", "QUEUE_MODE": "manual"}
    env |= {"RATE_LIMIT": UNLIMITED, "LOG_LEVEL": "ERROR", "CELERY_BROKER_URL": ""}
    env |= {"DJANGO_SETTINGS_MODULE": "contractor.settings", "STATEMENT_TIMEOUT_MS": "600000"}
    with ExitStack() as stack:
        folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="bench-"))
        env["STATE_DIR"] = folder
        migrate = [sys.executable, "-m", "django", "migrate", "--verbosity", "0"]
        subprocess.run(migrate, cwd=ROOT, env=env, check=True)  # noqa: S603
        command = [sys.executable, "-m", "jobs.api.bench_server", str(count)]
        process = subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.PIPE)  # noqa: S603
        stack.callback(process.wait, 30)
        stack.callback(process.terminate)
        assert process.stdout is not None
        yield Server(**json.loads(process.stdout.readline()))


class _Client:
    """One connection that stays open; every answer must be 200."""

    def __init__(self, server: Server) -> None:
        self._line = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
        self._headers = {"Authorization": f"Bearer {server.secret}"}

    def get(self, path: str) -> tuple[float, Any]:
        """Return (seconds until the last byte, document)."""
        begun = time.perf_counter()
        self._line.request("GET", path, headers=self._headers)
        answer = self._line.getresponse()
        body = answer.read()
        took = time.perf_counter() - begun
        if answer.status != 200:
            raise RuntimeError(f"{path}: {answer.status} {body[:300]!r}")
        return took, json.loads(body)


def _ask(server: Server, seconds: float) -> Iterator[Row]:
    client, random = _Client(server), Random(SEED)
    pages = _pages(client, server)
    kinds: dict[str, Callable[[], Question]] = {
        "list, first page": lambda: Question("/api/v1/jobs", "/bare/jobs"),
        "list, one status by due date": lambda: Question(
            "/api/v1/jobs?status=released&ordering=due", "/bare/jobs?status=released"
        ),
        "list, a page in the middle": lambda: random.choice(pages),
        "detail": lambda: _detail(random.randint(server.first, server.last)),
    }
    for what, draw in kinds.items():
        yield {"what": what, **_measure(client, draw, seconds)}


def _detail(key: int) -> Question:
    return Question(f"/api/v1/jobs/{key}", f"/bare/jobs/{key}")


def _pages(client: _Client, server: Server) -> list[Question]:
    """Return pages by cursor, from the newest page to the eighth."""
    found, address = [], "/api/v1/jobs"
    for _ in range(8):
        document = client.get(address)[1]
        if document["next"] is None:
            break
        address = "/" + document["next"].split("/", 3)[3]
        edge = document["results"][-1]["id"]
        found.append(Question(address, f"/bare/jobs?before={edge}"))
    return found


def _measure(client: _Client, draw: Callable[[], Question], seconds: float) -> Row:
    _require_same(client, draw())
    ours: list[float] = []
    bare: list[float] = []
    end = time.monotonic() + seconds
    while time.monotonic() < end or len(ours) < 20:
        question = draw()
        turns = [(question.ours, ours), (question.bare, bare)]
        for address, times in turns if len(ours) % 2 else reversed(turns):
            times.append(client.get(address)[0] * 1000)
    found = {
        f"{name}_{part}_ms": value
        for name, times in (("ours", ours), ("bare", bare))
        for part, value in _quantiles(times).items()
    }
    ratios = {
        f"ratio_{part}": found[f"ours_{part}_ms"] / found[f"bare_{part}_ms"]
        for part in ("p50", "p95")
    }
    return {"asked": len(ours), **found, **ratios}


def _quantiles(times: list[float]) -> dict[str, float]:
    cuts = statistics.quantiles(times, n=20)
    return {"p50": statistics.median(times), "p95": cuts[18]}


def _require_same(client: _Client, question: Question) -> None:
    """Raise RuntimeError unless both answer the same rows with the same members."""
    ours, bare = (_rows(client.get(address)[1]) for address in (question.ours, question.bare))
    if ours != bare or not ours:
        raise RuntimeError(f"{question} do not answer the same")


def _rows(document: Any) -> list[Row]:
    rows = document.get("results", [document])
    # Times are written with another number of digits.
    return [{name: row[name] for name in sorted(row) if not name.endswith("_at")} for row in rows]
