"""What schemathesis is told beside the schema, loaded through SCHEMATHESIS_HOOKS.

Two more checks: nobody does what the role forbids, nobody sees a stranger's row. Requests name
rows that exist about half of the time, for else nearly every answer would be a refusal. And
valid requests may be refused for what a schema cannot say: ``BEYOND_THE_SCHEMA`` lists it.
FUZZ_FACTS and FUZZ_ROLE say who asks.
"""

from __future__ import annotations

import io
import itertools
import json
import os
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import schemathesis

from tests.api.fuzzing.world import MARK

FACTS = json.loads(Path(os.environ["FUZZ_FACTS"]).read_text())
ROLE = os.environ["FUZZ_ROLE"]
WHO = FACTS["roles"][ROLE]
REFUSED = frozenset({400, 401, 403, 404, 405, 406, 413, 415})
LOW_KEYS = 16
# Refusals of single values (400) that JSON Schema has no words for, with the reason.
BEYOND_THE_SCHEMA = {
    "does_not_exist": "which rows there are",
    "unique": "which names are taken",
    "choose_one": "one of several members, which may also be null",
    "other_kind": "which measures belong to which kind of reading",
    "wrong_kind_of_part": "whether the part named is a bar",
    "too_early": "the other day of a span",
    "alone": "a member that needs another one",
    "calendar_unreadable": "the grammar of iCalendar",
    "invalid_cursor": "which cursors were given out",
    "unknown_time_zone": "the list of time zones",
    "unknown_zone": "the list of time zones",
    "expiry_out_of_range": "the present time",
    "length_not_readable": "the grammar of lengths as written on site",
    "length_out_of_range": "the greatest length depends on the unit beside it",
    "length_too_fine": "the marks of a tape",
    "length_too_small": "the least length depends on the unit beside it",
    "quantity_wrong_unit": "the grammar of numbers with units",
    "quantity_not_readable": "the grammar of numbers with units",
    "too_small": "the least value depends on the unit beside it",
    "unreadable_table": "the grammar of a table in a file",
    "invalid_value": "what the other rows say; the shape was right",
    "malformed_body": "that halves of surrogate pairs are no text (RFC 8259 section 8.2)",
    "weak_password": "which passwords are common",
    "webhook_url_refused": "which hosts may be called",
    "not_a_picture": "which bytes are a picture",
}
# Operations that read a document of a named format; the guide describes it, the schema does not.
READS_A_DOCUMENT = re.compile(r"/(calculations/[a-z-]+|surveys|parts/load-catalogue)$")
_KEY_HEADER, _TAG_HEADER = "Idempotency-Key", "If-Match"
_fresh = itertools.count()


@schemathesis.check
def role_is_obeyed(ctx: Any, response: Any, case: Any) -> None:
    """What the access table forbids to the role never gets past the refusals."""
    if response.request.method != case.operation.method.upper():
        return
    path = re.sub(r"\{[^}]*\}", "{}", case.operation.path).replace("/problems/{}", "/problems/x")
    roles = FACTS["access"].get(f"{case.operation.method.upper()} {path}", "public")
    if roles == "public" or ROLE in roles:
        return
    if response.status_code not in REFUSED:
        raise AssertionError(f"{ROLE} got {response.status_code}; the table offers it to {roles}")


@schemathesis.check
def nothing_foreign_is_shown(ctx: Any, response: Any, case: Any) -> None:
    """No answer holds a stranger's name, another company's key or another branch's row."""
    sent = f"{response.request.url} {response.request.body!r}"
    if MARK.encode() in _bytes_of(response) and MARK not in sent:
        raise AssertionError(f"{ROLE} is shown a row of another company")
    if response.status_code >= 300 or case.operation.method.lower() != "get":
        return
    try:
        document = response.json()
    except ValueError:
        return
    for name in ("branch", "company"):
        others = set(FACTS["places"][name]) - {WHO[name]}  # what it founds itself is its own
        if strange := others.intersection(_members(document, name)):
            raise AssertionError(f"{ROLE} of {name} {WHO[name]} is shown {name} {strange}")


def _bytes_of(response: Any) -> bytes:
    """Return the body; of a workbook, what is packed into it."""
    content: bytes = response.content
    if not content.startswith(b"PK"):
        return content
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        return b"".join(parts.read(name) for name in parts.namelist())


def _members(document: Any, wanted: str) -> Iterator[int]:
    if isinstance(document, list):
        for inner in document:
            yield from _members(inner, wanted)
    if isinstance(document, dict):
        for name, inner in document.items():
            if name == wanted and isinstance(inner, int):
                yield inner
            yield from _members(inner, wanted)


@schemathesis.hook
def filter_failure(context: Any, failure: Any, case: Any, response: Any) -> bool:
    """Keep every failure but four.

    A missing If-Match is answered 428, which RFC 6585 section 3 made for it. A key made up as
    "bulk" leads to the address of another operation, which answers 405.

    A valid request may be refused for what no schema can say. And a stale If-Match is answered
    412, valid body or not, for it is looked at first, as RFC 9110 section 13.2.1 wants it.
    """
    if type(failure).__name__ == "MissingHeaderNotRejected" and response.status_code == 428:
        return False
    if type(failure).__name__ == "UndefinedStatusCode" and response.status_code == 405:
        return f"POST {urlsplit(response.request.url).path}" not in FACTS["access"]
    is_about_data = type(failure).__name__ in ("AcceptedNegativeData", "RejectedPositiveData")
    if is_about_data and response.status_code == 412:
        return False
    if type(failure).__name__ != "RejectedPositiveData" or response.status_code != 400:
        return True
    if READS_A_DOCUMENT.search(case.operation.path):
        return False
    problem = response.json()
    codes = {error["code"] for error in problem.get("errors", [problem])}
    return not codes <= set(BEYOND_THE_SCHEMA)


@schemathesis.hook
def map_path_parameters(context: Any, path_parameters: Any) -> Any:
    return {
        name: str(_row(int(value))) if str(value).isascii() and str(value).isdigit() else value
        for name, value in (path_parameters or {}).items()
    } or path_parameters


@schemathesis.hook
def map_body(context: Any, body: Any) -> Any:
    keys = _keys_in(context.operation) if isinstance(body, dict) else frozenset()
    return _with_rows(body, keys) if keys else body


def _keys_in(operation: Any) -> frozenset[str]:
    return frozenset(FACTS["keys"].get(f"{operation.method.upper()} {operation.path}", ()))


def _with_rows(document: Any, keys: frozenset[str]) -> Any:
    if isinstance(document, list):
        return [_with_rows(inner, keys) for inner in document]
    if not isinstance(document, dict):
        return document
    return {
        name: _named(name, value) if name in keys else _with_rows(value, keys)
        for name, value in document.items()
    }


def _named(name: str, value: Any) -> Any:
    if isinstance(value, list):
        return [_named(name, inner) for inner in value]
    if type(value) is not int or not 0 <= value < 2**53:
        return value
    if name in ("branch", "company"):
        return value if value % 4 == 3 else WHO[name]
    return _row(value)


def _row(value: int) -> int:
    """Return ``value``, or one of the low keys; always the same one."""
    return value if value % 3 == 0 and value else 1 + value % LOW_KEYS


@schemathesis.hook
def before_call(context: Any, case: Any, kwargs: Any) -> None:
    """Make each valid key a fresh one, and let every other valid tag match."""
    headers = case.headers or {}
    key = headers.get(_KEY_HEADER)
    if isinstance(key, str) and re.fullmatch(r'"[ !#-\[\]-~]+"|[!#-~]+', key) and len(key) < 203:
        headers[_KEY_HEADER] = f'"{key.strip(chr(34))[:180]}-{next(_fresh)}"'
    tag = headers.get(_TAG_HEADER)
    if isinstance(tag, str) and re.fullmatch(r'"[!#-~]*"', tag) and len(tag) % 2:
        headers[_TAG_HEADER] = "*"
