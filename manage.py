#!/usr/bin/env python3
"""Run a command of Tautline; sets up its own environment on a machine that has none."""

import os
import sys

from contractor import bootstrap

# Commands of a developer's machine: they may run on the demo key.
LOCAL_COMMANDS = frozenset(
    {"test", "bench", "layout", "cut", "roster", "route", "makemigrations", "spectacular"}
)


def _prepare_demo() -> None:
    """Every demonstration starts over: a folder, a SQLite file and a key of its own."""
    import secrets

    os.environ.setdefault("STATE_DIR", str(bootstrap.ROOT / "var" / "demo"))
    os.environ.setdefault("DEBUG", "false")
    os.environ.setdefault("HTTPS_ONLY", "false")
    os.environ.setdefault("SECRET_KEY", secrets.token_urlsafe(50))


def main() -> None:
    command = sys.argv[1] if len(sys.argv) > 1 else "help"
    bootstrap.enter_environment(command)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    if command in LOCAL_COMMANDS:
        os.environ.setdefault("DEBUG", "true")
    if command == "demo":
        _prepare_demo()
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
