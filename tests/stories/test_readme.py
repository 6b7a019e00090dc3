"""The two commands and the curl story of the README, as a newcomer would run them."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 120


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, dict[str, str]]]:
    """Start ``manage.py demo``; yield its report and what it says to export."""
    state = tmp_path_factory.mktemp("state") / "demo"
    log = state.parent / "log.txt"
    environment = {**os.environ, "STATE_DIR": str(state), "QUEUE_MODE": "ticker"}
    for name in ("DATABASE_URL", "CELERY_BROKER_URL", "DJANGO_SETTINGS_MODULE"):
        environment.pop(name, None)
    command = [sys.executable, "manage.py", "demo", "--port", str(free_port())]
    with log.open("w") as out:
        server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=out, stderr=out)
    try:
        yield log_when_served(log, server)
    finally:
        server.terminate()
        server.wait(timeout=30)


def log_when_served(log: Path, server: subprocess.Popen[bytes]) -> tuple[str, dict[str, str]]:
    deadline = time.monotonic() + SECONDS
    while time.monotonic() < deadline and server.poll() is None:
        found = re.search(r"export TAUTLINE=(\S+) TOKEN=(\S+)", log.read_text())
        if found:
            return log.read_text(), {"TAUTLINE": found[1], "TOKEN": found[2]}
        time.sleep(0.2)
    raise AssertionError(f"the demonstration does not serve:\n{log.read_text()[-3000:]}")


def test_report_tells_the_whole_chain(demo: tuple[str, dict[str, str]]) -> None:
    report = demo[0]
    for words in (
        "12 Alder Lane, north wall: 6 braces",
        "Stone walls are not braced by this method.",
        "layers of furring to clear water pipe",
        "short ",
        "no plan is below",
        "Crew Ash",
        "1 month after the install",
        "braced earlier: closing",
        "Screening is not engineering design",
    ):
        assert words in report, words
    assert "approved" not in report.lower()


def test_curl_story_line_by_line(demo: tuple[str, dict[str, str]]) -> None:
    [story] = re.findall(r"```bash\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    script = f"set -e -o pipefail\nmkdir -p var/demo\n{story}"
    result = subprocess.run(
        ["bash", "-c", script],
        cwd=ROOT,
        env={**os.environ, **demo[1]},
        capture_output=True,
        text=True,
        check=False,
        timeout=SECONDS,
    )
    assert result.returncode == 0, result.stderr[-2000:]
    said = result.stdout.splitlines()
    assert said[0] == "within screening limits"
    assert said[1].startswith("7'-")
    assert int(said[2]) > 100_000
    assert said[3] == "requested"
    assert "north wall" in said[-1]
