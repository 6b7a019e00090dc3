"""``python -m tests.api.fuzzing --minutes 30``: schemathesis as each role, all checks on.

Each role starts on a copy of one filled database, on a server of its own on 127.0.0.1, with
rate limits far away and nothing sent out. Ends with status 1 when anything was found.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[3]
ROLES = ("owner", "office", "warehouse", "crew", "read_only", "integration")
SCHEMA = "/api/v1/schema?format=json"
FAR_AWAY = "100000000/60"


def environment(folder: Path, database: Path) -> dict[str, str]:
    return {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{database}",
        "STATE_DIR": str(folder / "state"),
        "DJANGO_SETTINGS_MODULE": "contractor.settings",
        "DEBUG": "false",
        "HTTPS_ONLY": "false",
        "SECRET_KEY": "only-for-a-database-that-is-thrown-away",
        "QUEUE_MODE": "manual",
        "CELERY_BROKER_URL": "",
        "LOG_LEVEL": "ERROR",
        "RATE_LIMIT": FAR_AWAY,
        "RATE_LIMIT_ANONYMOUS": FAR_AWAY,
    }


@contextmanager
def serving(env: dict[str, str], facts: Path, role: str, log: Path) -> Iterator[int]:
    """Serve as ``role`` sees it; yield the port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = [sys.executable, "-m", "tests.api.fuzzing.server", str(facts), role, str(port)]
    with log.open("w") as output:
        server = subprocess.Popen(command, cwd=ROOT, env=env, stdout=output, stderr=output)
        try:
            _wait_for(port, server)
            yield port
        finally:
            server.terminate()
            server.wait(30)


def _wait_for(port: int, server: subprocess.Popen[bytes]) -> None:
    for _ in range(600):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        if server.poll() is not None:
            break
        time.sleep(0.1)
    raise RuntimeError("the server did not come up; its log says why")


def fuzz(role: str, seconds: int, folder: Path, logs: Path, base: Path, options: list[str]) -> int:
    """Fuzz as ``role``; return schemathesis's status."""
    database, facts = folder / f"{role}.sqlite3", folder / "facts.json"
    shutil.copyfile(base, database)
    env = environment(folder, database)
    with serving(env, facts, role, logs / f"server-{role}.log") as port:
        who = json.loads(facts.read_text())["roles"][role]
        site = f"http://127.0.0.1:{port}"
        urlopen(f"{site}{SCHEMA}", timeout=300).close()  # making it takes longer than they wait
        command = [
            *("nice", str(Path(sys.executable).parent / "schemathesis"), "--no-color"),
            *("run", f"{site}{SCHEMA}"),
            *("--header", f"Authorization: Bearer {who['secret']}", "--checks", "all"),
            *("--workers", "1", "--max-time", str(seconds), "--continue-on-failure"),
            *("--generation-database", "none", "--report", "json,ndjson"),
            *("--report-json-path", str(logs / f"schemathesis-{role}.json")),
            *("--report-ndjson-path", str(logs / f"schemathesis-{role}.ndjson")),
            *options,
        ]
        extra = {"SCHEMATHESIS_HOOKS": "tests.api.fuzzing.hooks"}
        extra |= {"FUZZ_FACTS": str(facts), "FUZZ_ROLE": role, "PYTHONPATH": str(ROOT)}
        with (logs / f"schemathesis-{role}.log").open("w") as log:
            done = subprocess.run(
                command, cwd=folder, env={**env, **extra}, stdout=log, stderr=log, check=False
            )
    return done.returncode


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=30, help="in all, shared by the roles")
    parser.add_argument("--role", action="append", choices=ROLES, help="may be repeated")
    parser.add_argument("--logs", type=Path, default=Path.cwd())
    parser.add_argument("options", nargs="*", help="after --: more options of schemathesis run")
    chosen = parser.parse_args()
    roles = chosen.role or list(ROLES)
    with tempfile.TemporaryDirectory(prefix="fuzzing-") as name:
        folder, base = Path(name), Path(name) / "base.sqlite3"
        env = environment(folder, base)
        fill = [sys.executable, "-m", "tests.api.fuzzing.world", str(folder / "facts.json")]
        subprocess.run(fill, cwd=ROOT, env=env, check=True)
        seconds = round(chosen.minutes * 60 / len(roles))
        found = {
            role: fuzz(role, seconds, folder, chosen.logs, base, chosen.options) for role in roles
        }
    print(
        "\n".join(f"{role}: {'clean' if status == 0 else status}" for role, status in found.items())
    )
    return int(any(found.values()))


if __name__ == "__main__":
    sys.exit(main())
