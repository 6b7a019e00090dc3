"""Every POST sent twice at once, interrupted, and retried after a crash: each effect once.

The server is a process of its own with a database of its own; kills are SIGKILL or os._exit.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.conf import settings as django_settings

from tests import servers

ROOT = Path(str(django_settings.BASE_DIR))
APPS = ("api", "inventory", "jobs", "crews", "auth", "contenttypes", "admin", "sessions", "axes")
PREPARE = f"""
import django
from django.conf import settings
settings.MIGRATION_MODULES = dict.fromkeys({APPS!r})  # tables from the models: quicker
django.setup()
from datetime import timedelta
from django.core.management import call_command
from django.utils import timezone
call_command("migrate", run_syncdb=True, verbosity=0)
from contractor.api.models import Branch, Company, Membership, User
from contractor.api.services.tokens import issue_token
branch = Branch.objects.create(company=Company.objects.create(name="A"), name="B")
user = User.objects.create_user("owner")
Membership.objects.create(user=user, branch=branch, role="owner")
print(issue_token(user, name="first", scopes=["*:write"],
                  expires_at=timezone.now() + timedelta(hours=1))[1])
"""
NAMES = "SELECT name, count(*) FROM api_token WHERE name <> 'first' GROUP BY name"
ANSWERS = "SELECT count(*) FROM api_rememberedanswer"
PATIENCE_S = 300


@dataclass
class Site:
    """One database, and a server that is started again after each death."""

    environment: dict[str, str]
    secret: str = ""
    port: int = 0
    server: subprocess.Popen[bytes] | None = None
    starting: threading.Lock = field(default_factory=threading.Lock)

    def run(self, code: str) -> str:
        done = subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env=self.environment,
            check=True,
            capture_output=True,
            timeout=120,
        )
        return done.stdout.decode().strip().splitlines()[-1]

    def start(self) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        command = [sys.executable, "-m", "tests.api.hostile_server", str(self.port)]
        self.server = subprocess.Popen(
            command, cwd=ROOT, env=self.environment, stderr=subprocess.DEVNULL
        )
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        raise RuntimeError("the server did not come up")

    def kill(self) -> None:
        assert self.server is not None
        self.server.kill()
        self.server.wait()

    def revive(self) -> None:
        with self.starting:
            if self.server is None or self.server.poll() is not None:
                self.start()

    def post(self, name: str, key: str, die: str = "") -> tuple[int, bytes]:
        """Send one POST; (0, b"") when the line broke."""
        headers = {"Idempotency-Key": f'"{key}"', "X-Test-Die": die}
        return self.send("POST", "/api/v1/tokens", headers, name=name, scopes=["jobs:read"])

    def send(
        self, method: str, path: str, headers: dict[str, str], **body: Any
    ) -> tuple[int, bytes]:
        client = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        known = {
            "Authorization": f"Bearer {self.secret}",
            "Content-Type": "application/json",
        }
        try:
            client.request(method, path, json.dumps(body), {**known, **headers})
            answer = client.getresponse()
            return answer.status, answer.read()
        except (OSError, http.client.HTTPException):
            return 0, b""
        finally:
            client.close()

    def post_until_answered(self, name: str, key: str) -> bytes:
        gives_up = time.monotonic() + PATIENCE_S  # a killed server needs a while to come back
        while time.monotonic() < gives_up:
            status, body = self.post(name, key)
            if status == 201:
                return body
            assert status in (0, 409, 503), (status, body)
            time.sleep(random.uniform(0.02, 0.1))
        raise AssertionError(f"{name} was never answered: {status} {body!r}")

    def counts(self) -> tuple[dict[str, int], int]:
        """Return (how many tokens of each name, how many remembered answers)."""
        url = self.environment["DATABASE_URL"]
        opened: Any
        if url.startswith("sqlite:///"):
            opened = sqlite3.connect(url.removeprefix("sqlite:///"), timeout=20)
        else:
            opened = psycopg.connect(
                host=url.split("@/")[1].rsplit("/", 1)[0], user="tautline", dbname="postgres"
            )
        with closing(opened) as database:
            names = dict(database.execute(NAMES).fetchall())
            return names, database.execute(ANSWERS).fetchone()[0]


def made_site(url: str, folder: Path) -> Iterator[Site]:
    environment = {
        **os.environ,
        "DATABASE_URL": url,
        "STATE_DIR": str(folder),
        "DEBUG": "true",
        "QUEUE_MODE": "manual",
        "LOG_LEVEL": "CRITICAL",
        "RATE_LIMIT": "100000/60",
    }
    site = Site(environment)
    site.secret = site.run(PREPARE)
    site.start()
    try:
        yield site
    finally:
        site.kill()


@pytest.fixture(scope="module")
def sqlite_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("hostile")
    yield from made_site(f"sqlite:///{folder}/db.sqlite3", folder)


@pytest.fixture(scope="module")
def postgres_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("hostile")
    with servers.postgres() as url:
        yield from made_site(url, folder)


def check_death_at(site: Site, moment: str) -> None:
    name, key = f"{moment}-{uuid.uuid4().hex[:8]}", uuid.uuid4().hex
    assert site.post(name, key, die=moment) == (0, b"")
    assert site.server is not None
    assert site.server.wait(10) == 9
    site.revive()
    names, _ = site.counts()
    assert names.get(name, 0) == (1 if moment == "after-commit" else 0)
    first = site.post_until_answered(name, key)
    assert site.post_until_answered(name, key) == first
    assert site.counts()[0][name] == 1


def check_twice_at_once_under_kills(site: Site, posts: int, kills: int) -> None:
    """Four clients send everything twice at once while the server is killed now and then."""
    before = site.counts()[1]
    work = [(f"n-{uuid.uuid4().hex[:12]}", uuid.uuid4().hex) for _ in range(posts)]
    answers: dict[str, list[bytes]] = {name: [] for name, _ in work}
    over = threading.Event()

    def client(share: list[tuple[str, str]]) -> None:
        for name, key in share:
            answers[name].append(site.post_until_answered(name, key))

    def killer() -> None:
        for _ in range(kills):
            if over.wait(random.uniform(0.3, 0.8)):
                return
            site.kill()
            site.revive()

    clients = [threading.Thread(target=client, args=(work[n::2],)) for n in (0, 1, 0, 1)]
    death = threading.Thread(target=killer)
    for thread in (*clients, death):
        thread.start()
    for thread in clients:
        thread.join(2 * PATIENCE_S)
    over.set()
    death.join(PATIENCE_S)
    names, remembered = site.counts()
    assert {name: names.get(name) for name, _ in work} == dict.fromkeys(answers, 1)
    assert all(len(set(bodies)) == 1 and len(bodies) == 2 for bodies in answers.values())
    assert remembered - before == posts


def check_lost_update(site: Site) -> None:
    """Twenty people change one row at once, all from the same version."""
    status, body = site.send("GET", "/api/v1/branches/1", {})
    assert status == 200
    tag = f'"branch-1-v{json.loads(body)["version"]}"'
    found: list[int] = []

    def change(number: int) -> None:
        path, headers = "/api/v1/branches/1", {"If-Match": tag}
        found.append(site.send("PATCH", path, headers, name=f"by {number}")[0])

    threads = [threading.Thread(target=change, args=(number,)) for number in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(found) == [200] + [412] * 19


def test_one_of_twenty_changes_wins_on_sqlite(sqlite_site: Site) -> None:
    check_lost_update(sqlite_site)


@pytest.mark.services
def test_one_of_twenty_changes_wins_on_postgresql(postgres_site: Site) -> None:
    check_lost_update(postgres_site)


@pytest.mark.parametrize("moment", ["before-commit", "after-commit"])
def test_a_crash_around_the_commit_on_sqlite(sqlite_site: Site, moment: str) -> None:
    check_death_at(sqlite_site, moment)


def test_everything_twice_while_the_server_dies_on_sqlite(sqlite_site: Site) -> None:
    check_twice_at_once_under_kills(sqlite_site, posts=60, kills=1)


@pytest.mark.services
@pytest.mark.parametrize("moment", ["before-commit", "after-commit"])
def test_a_crash_around_the_commit_on_postgresql(postgres_site: Site, moment: str) -> None:
    check_death_at(postgres_site, moment)


@pytest.mark.services
def test_everything_twice_while_the_server_dies_on_postgresql(postgres_site: Site) -> None:
    check_twice_at_once_under_kills(postgres_site, posts=80, kills=2)


@pytest.mark.services
def test_a_storm_of_one_key_has_one_effect_on_postgresql(postgres_site: Site) -> None:
    name, key = f"storm-{uuid.uuid4().hex[:8]}", uuid.uuid4().hex
    found: list[Any] = []
    threads = [
        threading.Thread(target=lambda: found.append(postgres_site.post(name, key)))
        for _ in range(50)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert {status for status, _ in found} <= {201, 409}
    assert len({body for status, body in found if status == 201}) == 1
    assert postgres_site.counts()[0][name] == 1
