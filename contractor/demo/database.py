"""A fresh database for each demonstration; migrated once, copied afterwards."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import connection


def start_over(name: Path, say: Callable[[str], None]) -> None:
    """Put an empty migrated database at ``name``.

    Migrating takes seconds, so a copy is kept beside it under the hash of all migrations.
    """
    template = name.with_name(f"empty-{_migrations_hash()}.sqlite3")
    connection.close()
    for suffix in ("", "-wal", "-shm"):
        Path(f"{name}{suffix}").unlink(missing_ok=True)
    if not template.exists():
        say("Making the tables (once) ...")
        call_command("migrate", verbosity=0)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
        shutil.copyfile(name, template)
        return
    shutil.copyfile(template, name)


def _migrations_hash() -> str:
    digest = hashlib.sha256()
    for config in apps.get_app_configs():
        for file in sorted((Path(config.path) / "migrations").glob("*.py")):
            digest.update(file.name.encode())
            if file.is_relative_to(settings.BASE_DIR):
                digest.update(file.read_bytes())
    return digest.hexdigest()[:16]
