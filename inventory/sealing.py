"""Keep the ledger append-only in the database itself.

PostgreSQL: triggers refuse UPDATE, DELETE and TRUNCATE. SQLite: triggers refuse UPDATE and
DELETE. Only ``manage.py flush``, which empties every table, may lift the seal, for its own
connection and as long as it runs; a client without our connection set-up cannot.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate

REFUSAL = "The ledger is append-only: correct it with a new entry."
TABLE = "inventory_ledgerentry"

_SQLITE_SEAL = (
    f"CREATE TRIGGER IF NOT EXISTS ledger_no_update BEFORE UPDATE ON {TABLE} "
    f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END",
    f"CREATE TRIGGER IF NOT EXISTS ledger_no_delete BEFORE DELETE ON {TABLE} "
    f"WHEN ledger_is_sealed() BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END",
)
_SQLITE_BREAK = ("DROP TRIGGER ledger_no_update", "DROP TRIGGER ledger_no_delete")
_POSTGRES_SEAL = (
    f"""CREATE FUNCTION ledger_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF TG_OP = 'TRUNCATE' AND current_setting('tautline.flush', true) = 'on' THEN
            RETURN NULL;
        END IF;
        RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation';
    END $$""",
    f"CREATE TRIGGER ledger_no_change BEFORE UPDATE OR DELETE ON {TABLE} "
    "FOR EACH ROW EXECUTE FUNCTION ledger_refuse()",
    f"CREATE TRIGGER ledger_no_truncate BEFORE TRUNCATE ON {TABLE} "
    "FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse()",
)
_POSTGRES_BREAK = (
    f"DROP TRIGGER ledger_no_change ON {TABLE}",
    f"DROP TRIGGER ledger_no_truncate ON {TABLE}",
    "DROP FUNCTION ledger_refuse()",
)
_SEAL = {"sqlite": _SQLITE_SEAL, "postgresql": _POSTGRES_SEAL}
_BREAK = {"sqlite": _SQLITE_BREAK, "postgresql": _POSTGRES_BREAK}

_lifted: set[str] = set()


def seal(apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Migration step: create the triggers."""
    for statement in _SEAL[schema_editor.connection.vendor]:
        schema_editor.execute(statement)


def unseal(apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Migration step backwards: drop the triggers."""
    for statement in _BREAK[schema_editor.connection.vendor]:
        schema_editor.execute(statement)


def connect(app: AppConfig) -> None:
    """Give every SQLite connection the function that the trigger asks; seal after migrating.

    A migration that alters the table rebuilds it on SQLite, and triggers do not survive that.
    """
    connection_created.connect(_prepare, dispatch_uid="inventory.sealing")
    post_migrate.connect(_seal_again, sender=app, dispatch_uid="inventory.sealing")


def _seal_again(using: str, **_: Any) -> None:
    connection = connections[using]
    if connection.vendor == "sqlite" and TABLE in connection.introspection.table_names():
        with connection.cursor() as cursor:
            for statement in _SQLITE_SEAL:
                cursor.execute(statement)


def _prepare(connection: BaseDatabaseWrapper, **_: Any) -> None:
    if connection.vendor == "sqlite":
        connection.connection.create_function(
            "ledger_is_sealed", 0, lambda: connection.alias not in _lifted
        )


@contextmanager
def lifted(alias: str) -> Iterator[None]:
    """Let this database's ledger be emptied inside; only ``flush`` calls it."""
    connection = connections[alias]
    _lifted.add(alias)
    if connection.vendor == "postgresql":
        _set_flush(connection, "on")
    try:
        yield
    finally:
        _lifted.discard(alias)
        if connection.vendor == "postgresql":
            _set_flush(connection, "off")


def _set_flush(connection: BaseDatabaseWrapper, value: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('tautline.flush', %s, false)", [value])
