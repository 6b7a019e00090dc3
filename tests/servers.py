"""Throwaway PostgreSQL and Redis servers on sockets of their own, for tests and benchmarks."""

from __future__ import annotations

import getpass
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def find_postgres() -> Path | None:
    """Return the folder of initdb and postgres: on PATH or where Debian keeps it."""
    if found := shutil.which("initdb"):
        return Path(found).parent
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((folder for folder in folders if (folder / "initdb").exists()), None)


def find_redis() -> str | None:
    return shutil.which("redis-server")


def _postgres_user() -> str | None:
    """PostgreSQL refuses to run as root; Debian's package brings a user for it."""
    if getpass.getuser() != "root" and os.geteuid() != 0:
        return None
    return "postgres" if any(entry.pw_name == "postgres" for entry in pwd.getpwall()) else "nobody"


@contextmanager
def postgres() -> Iterator[str]:
    """Start a server in a new folder; yield its DATABASE_URL; stop it and remove the folder."""
    binaries = find_postgres()
    if binaries is None:
        raise FileNotFoundError("No PostgreSQL found: install the package postgresql (15 or later)")
    user = _postgres_user()
    with tempfile.TemporaryDirectory(prefix="pg-") as folder:
        if user:
            shutil.chown(folder, user=user)
        data = str(Path(folder) / "data")
        make = [str(binaries / "initdb"), "-D", data, "-U", "tautline", "-A", "trust", "-N"]
        subprocess.run(
            [*make, "-E", "UTF8"], check=True, user=user, capture_output=True, cwd=folder
        )
        options = ["-k", folder, "-c", "listen_addresses=", "-c", "max_connections=200"]
        options += ["-c", "fsync=off", "-c", "shared_buffers=128MB"]
        server = subprocess.Popen(
            [str(binaries / "postgres"), "-D", data, *options],
            user=user,
            cwd=folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            _wait(lambda: _answers(str(Path(folder) / ".s.PGSQL.5432")), server)
            yield f"postgres://tautline@/{folder}/postgres"
        finally:
            _stop(server)


@contextmanager
def redis() -> Iterator[str]:
    """Start a server on a free loopback port; yield its URL; stop it."""
    program = find_redis()
    if program is None:
        raise FileNotFoundError("No Redis found: install the package redis-server")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        program,
        "--port",
        str(port),
        "--bind",
        "127.0.0.1",
        "--save",
        "",
        "--appendonly",
        "no",
    ]
    with tempfile.TemporaryDirectory(prefix="redis-") as folder:
        server = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL)
        try:
            _wait(lambda: _accepts(port), server)
            yield f"redis://127.0.0.1:{port}/0"
        finally:
            _stop(server)


def _answers(path: str) -> bool:
    with socket.socket(socket.AF_UNIX) as probe:
        return probe.connect_ex(path) == 0


def _accepts(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def _wait(is_up: object, server: subprocess.Popen[bytes], seconds: float = 30) -> None:
    deadline = time.monotonic() + seconds
    assert callable(is_up)
    while not is_up():
        if server.poll() is not None or time.monotonic() > deadline:
            raise RuntimeError(f"{server.args!r} did not come up")
        time.sleep(0.1)
    time.sleep(0.3)


def _stop(server: subprocess.Popen[bytes]) -> None:
    server.terminate()
    try:
        server.wait(timeout=15)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
