"""What is asked of every operation that writes."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from drf_spectacular.generators import SchemaGenerator
from jsonschema import Draft202012Validator
from rest_framework import serializers
from rest_framework.relations import ManyRelatedField

from contractor.api.examples import example_of
from contractor.api.fields import ScopedKeyField
from contractor.api.models import AuditEntry, Event, RememberedAnswer
from inventory.models import LedgerEntry
from tests.api.acts import Call, Chapter, World, replace_at
from tests.api.rows import Rows

NOBODY_SETS = ("id", "version", "created_at", "updated_at", "created_by", "actor", "no_such_member")


@cache
def reference() -> dict[str, Any]:
    """Return the OpenAPI document."""
    document: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return document


@cache
def shapes() -> dict[str, Any]:
    """Return operation -> the shape that reads its body; what is no shape is left out."""
    generator = SchemaGenerator()  # type: ignore[no-untyped-call]
    generator._initialise_endpoints()  # type: ignore[no-untyped-call]
    found = {}
    for path, _, method, view in generator._get_paths_and_endpoints():  # type: ignore[no-untyped-call]
        schema = view.schema
        schema.method, schema.path = method, path
        shape = schema.get_request_serializer()
        if isinstance(shape, type) and issubclass(shape, serializers.BaseSerializer):
            shape = shape()
        if isinstance(shape, serializers.BaseSerializer):
            found[f"{method} {re.sub(r'{[^}]*}', '{pk}', path)}"] = shape
    return found


@dataclass(frozen=True)
class Key:
    """A key of a row in a body. ``of_branch``: not shared by the whole company."""

    path: tuple[Any, ...]
    model: Any
    of_branch: bool = True
    is_plain: bool = False

    @property
    def pointer(self) -> str:
        return "#/" + "/".join(map(str, self.path))


def keys_in(shape: Any, body: Any, path: tuple[Any, ...] = ()) -> Iterator[Key]:
    """Return every key in ``body`` that its shape knows as one."""
    if isinstance(shape, ScopedKeyField):
        if body is not None:
            rows: Any = getattr(shape, "queryset", None)
            yield Key(path, rows.model, bool(shape.branch_path))
    elif isinstance(shape, ManyRelatedField):
        for number, item in enumerate(body):
            yield from keys_in(shape.child_relation, item, (*path, number))
    elif isinstance(shape, serializers.ListSerializer | serializers.ListField):
        for number, item in enumerate(body):
            yield from keys_in(shape.child, item, (*path, number))
    elif isinstance(shape, serializers.Serializer) and isinstance(body, dict):
        for name, inner in body.items():
            if name in shape.fields:
                yield from keys_in(shape.fields[name], inner, (*path, name))


def numbers_in(call: Call, body: Any, path: tuple[Any, ...] = ()) -> Iterator[Key]:
    """Return the plain numbers that the call says are keys."""
    if isinstance(body, dict):
        for name, inner in body.items():
            if name in call.rows:
                yield Key((*path, name), call.rows[name], is_plain=True)
            else:
                yield from numbers_in(call, inner, (*path, name))
    elif isinstance(body, list):
        for number, inner in enumerate(body):
            yield from numbers_in(call, inner, (*path, number))


def send(world: World, name: str, call: Call, body: Any) -> Any:
    method, _, path = name.partition(" ")
    client = call.client or world.owner
    kind = "multipart" if call.multipart else "json"
    act = getattr(client, method.lower())
    return act(path.replace("{pk}", str(call.key)), body, format=kind, HTTP_IF_MATCH="*")


def written() -> tuple[int, ...]:
    tables: tuple[Any, ...] = (AuditEntry, Event, RememberedAnswer, LedgerEntry)
    return tuple(table.objects.count() for table in tables)


def check_nothing_can_be_slipped_in(world: World, name: str, call: Call) -> None:
    """Members that nobody may set are named and refused, not ignored."""
    is_document = "/calculations/" in name  # the engine's own formats
    if call.multipart or is_document or name.startswith("DELETE"):
        return
    shape = shapes().get(name)
    fields = shape.fields if isinstance(shape, serializers.Serializer) else {}
    fixed = [n for n, one in fields.items() if one.read_only]
    names = {n for n in (*NOBODY_SETS, *fixed) if n not in fields or fields[n].read_only}
    before = written()
    answer = send(world, name, call, {**(call.body or {}), **dict.fromkeys(names, 1)})
    assert answer.status_code == 400, (name, answer.status_code, answer.content[:300])
    told = {e["pointer"]: e["code"] for e in answer.json()["errors"]}
    for member in names:
        assert told.get(f"#/{member}") in ("read_only", "unknown_member"), (name, member, told)
    assert written() == before, name


def keys_of(name: str, call: Call) -> list[Key]:
    shape = shapes().get(name)
    scoped = keys_in(shape, call.body) if shape is not None else ()
    return [*scoped, *numbers_in(call, call.body)]


def swapped(call: Call, key: Key, rows: Rows) -> Any:
    body = copy.deepcopy(call.body)
    replace_at(body, list(key.path), rows.of(key.model).pk)
    return body


def check_rows_elsewhere_do_not_exist(world: World, name: str, call: Call) -> int:
    """Every key in the body, changed for one that is not the caller's, is refused: how many."""
    count = 0
    for key in keys_of(name, call):
        for rows in (world.strangers, world.neighbours) if key.of_branch else (world.strangers,):
            if call.client is world.other_owner and rows is world.neighbours:
                continue
            body, before = swapped(call, key, rows), written()
            answer = send(world, name, call, body)
            where = (name, key.pointer, rows.branch.name, answer.status_code)
            assert answer.status_code in (400, 404), (where, answer.content)
            if not key.is_plain:
                told = {e["pointer"]: e["code"] for e in answer.json()["errors"]}
                assert told.get(key.pointer) == "does_not_exist", (where, told)
            assert written() == before, where
            count += 1
    return count


def check_branches_stay_apart(world: World, name: str, call: Call) -> None:
    """Who works at two branches cannot tie rows of both together by one request."""
    keys = [key for key in keys_of(name, call) if key.of_branch and not key.is_plain]
    if call.joins_branches or (len(keys) < 2 and call.key is None):
        return  # the only key says which branch it is
    client = replace(call, client=world.both)
    for key in keys:
        body, before = swapped(call, key, world.neighbours), written()
        answer = send(world, name, client, body)
        assert 400 <= answer.status_code < 500, (name, key.pointer, answer.content)
        assert written() == before, (name, key.pointer)


def check_answer(name: str, answer: Any) -> None:
    """The answer is what the reference says of this status."""
    method, _, path = name.partition(" ")
    paths = {re.sub(r"{[^}]*}", "{pk}", key): value for key, value in reference()["paths"].items()}
    told = paths[path][method.lower()]["responses"]
    status = str(answer.status_code)
    assert status in told, (name, status, answer.content[:500])
    content = told[status].get("content", {}).get("application/json")
    if content is not None:
        schema = {**content["schema"], "components": reference()["components"]}
        faults = sorted(
            Draft202012Validator(
                schema, format_checker=Draft202012Validator.FORMAT_CHECKER
            ).iter_errors(answer.json()),
            key=str,
        )
        assert not faults, (name, [f"{fault.json_path}: {fault.message}" for fault in faults[:5]])


def check_example(name: str, call: Call) -> None:
    """Where the reference shows a body, this is it but for the keys of rows."""
    method, _, path = name.partition(" ")
    example = example_of(method, path.replace("{pk}", "{id}"))
    if example is None:
        return
    body, wanted = copy.deepcopy(call.body), copy.deepcopy(example)
    own = Call(example, rows={**call.rows, **dict.fromkeys(call.own, AuditEntry)})
    for key in keys_of(name, own):
        for document in (body, wanted):
            replace_at(document, list(key.path), "a key")
    assert body == wanted, name


def check_trail(name: str, call: Call, before: tuple[int, ...]) -> None:
    """Somebody, named, changed something, said; and an owner of the branch can read it.

    What moves stock is told by the ledger: actor, time, change and the balance after it.
    """
    made = AuditEntry.objects.order_by("pk")[before[0] :]
    posted = LedgerEntry.objects.order_by("pk")[before[-1] :]
    told = Event.objects.order_by("pk")[before[1] :]
    assert bool(made or posted) is (call.trail == "audit"), (name, len(made), len(posted))
    if call.trail == "events":
        assert {event.actor.partition(":")[0] for event in told} == {"token"}, name
    for line in posted:
        assert line.actor.startswith("token:"), (name, line.actor)
    for entry in made:
        assert entry.actor.startswith(("token:", "user:")), (name, entry.actor)
        assert entry.company_id is not None, (name, entry.subject)
        assert entry.before or entry.after, (name, entry.subject)


def run(world: World, chapter: Chapter) -> int:
    """Go through a chapter; return how many keys were changed for those of strangers."""
    count = 0
    for name, function in chapter.steps:
        step = function(world)
        call = next(step)
        check_nothing_can_be_slipped_in(world, name, call)
        count += check_rows_elsewhere_do_not_exist(world, name, call)
        check_branches_stay_apart(world, name, call)
        check_example(name, call)
        before = written()
        answer = send(world, name, call, call.body if call.body is not None else {})
        assert 200 <= answer.status_code < 300, (name, answer.status_code, answer.content[:600])
        check_answer(name, answer)
        check_trail(name, call, before)
        try:
            step.send(answer.json() if answer.content else None)
        except StopIteration:
            continue
        raise AssertionError(f"{name} asks for a second request")
    return count
