"""``manage.py bench inventory``: past positions of a long ledger, and orders on hot parts.

Each measurement starts a throwaway PostgreSQL (the ledger: SQLite as well) and a fresh process
with that database. The rates of the hot parts are taken in turn in one run, ours and bare SQL,
so that a busy machine hits both alike.
"""

from __future__ import annotations

import json
import os
import secrets
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parent.parent
SIZES = (10_000, 100_000, 1_000_000)
CLIENTS, PARTS = 32, 10
Row = dict[str, Any]


def main(
    data: Path | None = None, seconds: float | None = None, limit: int | None = None
) -> tuple[list[Row], str]:
    """Return the rows and a table. ``limit`` caps the ledger's size, ``seconds`` one rate."""
    sizes = [size for size in SIZES if limit is None or size <= limit] or [limit or SIZES[0]]
    rows: list[Row] = []
    with sqlite() as url:
        rows += _worker(url, "ledger", "SQLite", *map(str, sizes))
    with postgres() as found:
        if found:
            rows += _worker(found, "ledger", "PostgreSQL", *map(str, sizes))
            rows += _worker(found, "orders", str(seconds or 15.0))
    return rows, _text(rows, bool(found))


@contextmanager
def sqlite() -> Iterator[str]:
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        yield f"sqlite:///{folder}/bench.sqlite3"


@contextmanager
def postgres() -> Iterator[str]:
    """Yield the URL of a throwaway server, or "" where PostgreSQL is not installed."""
    from tests import servers

    if servers.find_postgres() is None:
        yield ""
        return
    with servers.postgres() as url:
        yield url


def _worker(url: str, *arguments: str) -> list[Row]:
    """Migrate the database of ``url`` and measure in a process of its own."""
    # As a service runs: with DEBUG Django keeps the text of every statement.
    env = {**os.environ, "DATABASE_URL": url, "DEBUG": "false", "STATEMENT_TIMEOUT_MS": "600000"}
    env["SECRET_KEY"] = secrets.token_urlsafe(50)
    env.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        env["STATE_DIR"] = folder
        migrate = [sys.executable, "-m", "django", "migrate", "--verbosity", "0"]
        subprocess.run(migrate, cwd=ROOT, env=env, check=True)  # noqa: S603
        measure = [sys.executable, "-m", "inventory.bench_worker", *arguments]
        done = subprocess.run(  # noqa: S603
            measure, cwd=ROOT, env=env, check=True, stdout=subprocess.PIPE
        )
    found: list[Row] = json.loads(done.stdout)
    return found


def _text(rows: list[Row], has_postgres: bool) -> str:
    lines = ["Position of a part at a past moment", ""]
    lines.append(
        f"{'database':<12}{'entries':>10}{'median ms':>11}{'worst ms':>10}{'branch ms':>11}"
    )
    for row in rows:
        if row["what"] == "ledger":
            lines.append(
                f"{row['database']:<12}{row['entries']:>10,}{row['median_ms']:>11.2f}"
                f"{row['worst_ms']:>10.2f}{row['branch_ms']:>11.2f}"
            )
    lines += ["", f"Orders of several lines, {CLIENTS} clients, {PARTS} hot parts, PostgreSQL", ""]
    lines.append(
        f"{'variant':<34}{'orders/s':>9}{'p99 ms':>8}{'refused':>9}{'deadlocks':>10}{'oversold':>9}"
    )
    for row in rows:
        if row["what"] == "orders":
            rate = "-" if row["per_second"] is None else f"{row['per_second']:.0f}"
            lines.append(
                f"{row['variant']:<34}{rate:>9}{row['p99_ms']:>8.0f}"
                f"{row['refused']:>9}{row['deadlocks']:>10}{row['oversold']:>9}"
            )
    if not has_postgres:
        lines.append("PostgreSQL is not installed: not measured.")
    ratios = [row for row in rows if row["what"] == "ratio"]
    lines += [f"{row['of']} against {row['to']}: {row['ratio']:.2f}" for row in ratios]
    return "\n".join(lines) + "\n"
