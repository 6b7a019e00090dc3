"""Write one new row by one statement, where many clients wait for each other.

Without what ``save`` adds and these rows do not need: savepoints, signals, audit entries.
"""

from __future__ import annotations

from functools import cache
from typing import TypeVar

from django.db import connection, connections, models

Row = TypeVar("Row", bound=models.Model)


def insert(row: Row) -> Row:
    """Insert ``row`` (it has no key yet) and give it its key; return it."""
    database = connections[connection.alias]
    fields, text = _statement(type(row), database.vendor)
    values = [field.get_db_prep_save(field.pre_save(row, True), database) for field in fields]
    with database.cursor() as cursor:
        cursor.execute(text, values)
        row.pk = cursor.fetchone()[0]
    row._state.adding, row._state.db = False, database.alias
    return row


@cache
def _statement(
    model: type[models.Model], vendor: str
) -> tuple[list[models.Field[object, object]], str]:
    """Return the fields to fill and the statement; quoting depends on the ``vendor``."""
    meta, quote = model._meta, connection.ops.quote_name
    fields = [field for field in meta.concrete_fields if not field.primary_key]
    columns = ", ".join(quote(field.column) for field in fields if field.column)
    marks = ", ".join(["%s"] * len(fields))
    key = quote(meta.pk.attname)
    text = f"INSERT INTO {quote(meta.db_table)} ({columns}) VALUES ({marks}) RETURNING {key}"  # noqa: S608 - our own names
    return fields, text
