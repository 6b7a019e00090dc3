"""The project's whole check: style, types, import order, migrations, tests."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

PYTHON = sys.executable
BIN = Path(sys.executable).parent
CHECKS = {
    "style (ruff check)": [str(BIN / "ruff"), "check", "."],
    "format (ruff format)": [str(BIN / "ruff"), "format", "--check", "."],
    "types (mypy)": [str(BIN / "mypy"), "contractor", "jobs", "inventory", "tests"],
    "import order (lint-imports)": [str(BIN / "lint-imports")],
    "migrations": [PYTHON, "manage.py", "makemigrations", "--check", "--dry-run"],
}


class Command(BaseCommand):
    help = "Check style, types, imports and migrations, then run the tests (pytest)."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--only-tests", action="store_true", help="leave out the checks")
        parser.add_argument("paths", nargs="*", help="test paths for pytest (default: all)")

    def handle(self, *args: Any, **options: Any) -> None:
        os.chdir(settings.BASE_DIR)
        failed = [] if options["only_tests"] else self._checks()
        failed += self._tests(options["paths"])
        if failed:
            raise CommandError("Not passed: " + ", ".join(failed))

    def _checks(self) -> list[str]:
        return [name for name, command in CHECKS.items() if not self._run(name, command)]

    def _tests(self, paths: list[str]) -> list[str]:
        pytest = [PYTHON, "-m", "pytest", *paths]
        failed = []
        if not self._run("tests on SQLite", [*pytest, "-m", "not services"]):
            failed.append("tests on SQLite")
        if not self._tests_on_servers([*pytest, "-m", "services"]):
            failed.append("tests on PostgreSQL and Redis")
        return failed

    def _tests_on_servers(self, pytest: list[str]) -> bool:
        from tests import servers

        if not (servers.find_postgres() and servers.find_redis()):
            self.stdout.write("PostgreSQL or Redis not found: the `services` tests are left out.")
            return os.environ.get("CI", "").lower() != "true"
        with ExitStack() as stack:
            extra = {
                "DATABASE_URL": stack.enter_context(servers.postgres()),
                "CELERY_BROKER_URL": stack.enter_context(servers.redis()),
            }
            return self._run("tests on PostgreSQL and Redis", pytest, extra)

    def _run(self, name: str, command: list[str], extra: dict[str, str] | None = None) -> bool:
        self.stdout.write(f"-- {name}")
        self.stdout.flush()
        begun = time.monotonic()
        result = subprocess.run(command, check=False, env={**os.environ, **(extra or {})})
        self.stdout.write(f"   {time.monotonic() - begun:.0f} s, exit {result.returncode}")
        nothing_collected = 5 if command[1:3] == ["-m", "pytest"] else 0
        return result.returncode in {0, nothing_collected}
