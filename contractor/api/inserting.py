"""Write rows by few statements and few messages, where many clients wait for each other.

Without what ``save`` adds and these rows do not need: savepoints, signals, audit entries.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

from django.db import connection, connections, models
from django.db.backends.utils import CursorWrapper

Statement = tuple[str, Sequence[Any]]
"""A text and the values of its %s; a text without values is taken as it stands."""

_NEXT_KEY = {
    "postgresql": "nextval('{table}_{column}_seq')",  # as PostgreSQL calls it
    "sqlite": "(SELECT COALESCE(MAX(seq), 0) + 1 FROM sqlite_sequence WHERE name = '{table}')",
}


def next_key(model: type[models.Model]) -> str:
    """Return an expression for the key of a new row, to be asked for in a look made anyway.

    Ask inside the transaction that inserts the row: SQLite has one writer at a time.
    """
    meta = model._meta
    return _NEXT_KEY[connection.vendor].format(table=meta.db_table, column=meta.pk.column)


def take_key(model: type[models.Model]) -> int:
    """Return the key of a new row, where no look is made."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {next_key(model)}")
        key: int = cursor.fetchone()[0]
    return key


def insertion(row: models.Model) -> Statement:
    """Return the statement that inserts ``row``, with its key if it has one already.

    ``row`` counts as stored from here on.
    """
    database = connections[connection.alias]
    fields, text = _text(type(row), row.pk is not None, database.vendor)
    row._state.adding, row._state.db = False, database.alias
    return text, [field.get_db_prep_save(field.pre_save(row, True), database) for field in fields]


def send(statements: Sequence[Statement]) -> list[int]:
    """Execute in order, on PostgreSQL in one message; return how many rows each touched."""
    with connection.cursor() as cursor:
        return [cursor.rowcount for _ in _each(cursor, statements)]


def ask(statements: Sequence[Statement]) -> list[list[tuple[Any, ...]]]:
    """Execute queries in order, on PostgreSQL in one message; return the rows of each."""
    with connection.cursor() as cursor:
        return [cursor.fetchall() for _ in _each(cursor, statements)]


def _each(cursor: CursorWrapper, statements: Sequence[Statement]) -> Iterator[None]:
    """Execute ``statements``; stop at the result of each."""
    if connection.vendor != "postgresql":
        for text, values in statements:
            cursor.execute(text, values or None)
            yield
        return
    with connection.wrap_database_errors:
        texts = [cursor.mogrify(text, values) if values else text for text, values in statements]
    cursor.execute("; ".join(texts))
    yield
    while cursor.nextset():
        yield


@cache
def _text(
    model: type[models.Model], has_key: bool, vendor: str
) -> tuple[list[models.Field[object, object]], str]:
    """Return the fields to fill and the statement; its quotes depend on the ``vendor``."""
    meta, quote = model._meta, connection.ops.quote_name
    fields = [field for field in meta.concrete_fields if has_key or not field.primary_key]
    columns = ", ".join(quote(field.column) for field in fields if field.column)
    marks = ", ".join(["%s"] * len(fields))
    return fields, f"INSERT INTO {quote(meta.db_table)} ({columns}) VALUES ({marks})"  # noqa: S608 - our own names
