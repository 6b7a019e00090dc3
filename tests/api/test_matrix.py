"""Role x endpoint x branch, from the URL table: an endpoint without a rule fails here."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import transaction
from rest_framework import serializers
from rest_framework.relations import ManyRelatedField, PrimaryKeyRelatedField

from contractor.api.access import EVERYONE
from contractor.api.fields import ScopedKeyField
from contractor.api.models import Branch, Role, User
from contractor.api.permissions import PUBLIC
from contractor.api.resources import Creates
from tests.api.operations import Operation, operations, undeclared_routes
from tests.api.rows import Rows
from tests.conftest import ApiTester

OPERATIONS = operations()
OPEN_TO_ALL = {
    "GET /api/v1/health",
    "GET /api/v1/problems",
    "GET /api/v1/problems/not_found",
}
NOT_OURS = {"/api/v1/schema", "/api/v1/docs", "/api/v1/guide"}
ALLOWED = "allowed"
HIDDEN = "There is no such record, or it is not yours to see."


@pytest.fixture(autouse=True)
def _many_requests(settings: Any) -> Iterator[None]:
    settings.RATE_LIMIT = settings.RATE_LIMIT_ANONYMOUS = "1000000/60"
    logging.disable(logging.CRITICAL)
    yield
    logging.disable(logging.NOTSET)


def test_every_operation_has_a_rule() -> None:
    assert len(OPERATIONS) >= 50
    without = [str(op) for op in OPERATIONS if op.roles is None]
    assert without == []
    strange = [str(op) for op in OPERATIONS if op.roles != PUBLIC and not set(op.roles) <= EVERYONE]
    assert strange == []
    without_area = [str(op) for op in OPERATIONS if op.roles != PUBLIC and not op.view.area]
    assert without_area == []


def test_what_is_open_to_all_is_listed_here() -> None:
    assert {str(op) for op in OPERATIONS if op.roles == PUBLIC} == OPEN_TO_ALL
    assert undeclared_routes() == NOT_OURS


def test_no_view_declares_what_it_does_not_offer() -> None:
    offered: dict[Any, set[str]] = {}
    for op in OPERATIONS:
        offered.setdefault(op.view, set()).add(op.action)
    surplus = {
        view.__name__: sorted(set(view.access) - names)
        for view, names in offered.items()
        if set(view.access) - names
    }
    assert surplus == {}


def call(client: ApiTester, op: Operation, key: object = 0) -> Any:
    """Send the request and undo what it did."""
    point = transaction.savepoint()
    headers = {"HTTP_IF_MATCH": "*"}
    if op.method == "get":
        answer = client.get(op.at(key))
    else:
        kind = "multipart" if op.reads_files else "json"
        answer = getattr(client, op.method)(op.at(key), {}, format=kind, **headers)
    transaction.savepoint_rollback(point)
    return answer


def expected(op: Operation, role: str, place: str) -> Any:
    """Return the status that the declaration promises, or ``ALLOWED``."""
    if op.roles == PUBLIC:
        return ALLOWED
    if role not in op.roles:
        return 403
    if place == "own" or (place == "other" and op.has_shared_rows):
        return ALLOWED
    return 404


def fits(op: Operation, answer: Any, wanted: Any) -> bool:
    if wanted == ALLOWED:
        # A view with a scope of its own may show only the caller's rows.
        is_hidden = answer.status_code == 404 and answer.json()["detail"] == HIDDEN
        return answer.status_code not in (401, 403) and (op.is_self_scoped or not is_hidden)
    return bool(answer.status_code == wanted)


def is_as_unknown(client: ApiTester, op: Operation, answer: Any) -> bool:
    """Return whether a row elsewhere is answered exactly as a row that does not exist."""
    unknown = call(client, op, 10**17)
    pairs = [(found.status_code, found.json()["code"]) for found in (answer, unknown)]
    return pairs[0] == pairs[1] and answer.status_code in (400, 404)


@pytest.mark.parametrize("role", Role.values)
def test_each_cell_is_as_declared(
    role: str,
    branch: Branch,
    other_branch: Branch,
    foreign_branch: Branch,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
) -> None:
    client = client_for(make_user(role, branch))
    places = {"own": Rows(branch), "other": Rows(other_branch), "foreign": Rows(foreign_branch)}
    wrong = []
    for op in OPERATIONS:
        for place, rows in places.items() if op.is_detail else (("own", None),):
            key = rows.of(op.fresh_view().queryset.model).pk if rows else 0
            answer, wanted = call(client, op, key), expected(op, role, place)
            if wanted == 404 and is_as_unknown(client, op, answer):
                continue
            if not fits(op, answer, wanted):
                wrong.append((str(op), place, wanted, answer.status_code))
    assert not wrong, "\n".join(map(str, wrong))


def test_without_a_token_everything_but_the_open_is_401(anonymous: ApiTester) -> None:
    answers = {str(op): call(anonymous, op, 1).status_code for op in OPERATIONS}
    assert {name for name, status in answers.items() if status != 401} == OPEN_TO_ALL


def test_lists_show_no_row_of_another_branch_or_company(
    branch: Branch,
    other_branch: Branch,
    foreign_branch: Branch,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
) -> None:
    client = client_for(make_user("owner", branch))
    rows = [Rows(at) for at in (branch, other_branch, foreign_branch)]
    leaks: list[Any] = []
    for op in OPERATIONS:
        if op.action != "list" or "owner" not in op.roles:
            continue
        own, other, foreign = (at.of(op.fresh_view().queryset.model) for at in rows)
        hidden = {foreign.pk} if op.has_shared_rows else {other.pk, foreign.pk}
        answer = client.get(op.path, {"limit": 200})
        shown = {row.get("id") for row in answer.json().get("results", [])}
        if shown & hidden or answer.status_code != 200:
            leaks.append((str(op), answer.status_code, shown & hidden))
        if not op.is_self_scoped and own.pk not in shown:
            leaks.append((str(op), "own row is missing"))
    assert leaks == []


def writes() -> list[Operation]:
    return [op for op in OPERATIONS if op.action in ("create", "partial_update")]


def shape_of(op: Operation) -> serializers.Serializer[Any]:
    view = op.view
    name = "create_shape" if op.action == "create" else "change_shape"
    shape: Any = getattr(view, name, None) or view.serializer_class
    return shape()  # type: ignore[no-any-return]


def test_mass_assignment_is_refused_everywhere(
    branch: Branch, make_user: Callable[..., User], client_for: Callable[..., ApiTester]
) -> None:
    client, rows = client_for(make_user("owner", branch)), Rows(branch)
    wrong = []
    for op in writes():
        if "owner" not in op.roles:
            continue
        fixed = [name for name, field in shape_of(op).fields.items() if field.read_only]
        if op.action == "create" and op.view.create is not Creates.create:
            fixed = []  # a view that reads its body itself has another shape
        names = {"id", "version", "created_at", "no_such_member", *fixed}
        key = rows.of(op.fresh_view().queryset.model).pk if op.is_detail else 0
        answer = getattr(client, op.method)(op.at(key), dict.fromkeys(names, 1), HTTP_IF_MATCH="*")
        codes = {entry["pointer"][2:]: entry["code"] for entry in answer.json().get("errors", [])}
        refused = {name for name, code in codes.items() if code in ("read_only", "unknown_member")}
        if answer.status_code != 400 or not names <= refused:
            wrong.append((str(op), answer.status_code, sorted(names - refused)))
    assert not wrong, "\n".join(map(str, wrong))


def test_keys_of_rows_elsewhere_do_not_exist_in_bodies(
    branch: Branch,
    foreign_branch: Branch,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
) -> None:
    client, own = client_for(make_user("owner", branch)), Rows(branch)
    foreign = Rows(foreign_branch)
    wrong, checked = [], 0
    for op in writes():
        for name, field in shape_of(op).fields.items():
            inner: Any = field.child_relation if isinstance(field, ManyRelatedField) else field
            if not isinstance(inner, PrimaryKeyRelatedField) or inner.read_only:
                continue
            rows: Any = getattr(inner, "queryset", None)
            if not isinstance(inner, ScopedKeyField) or rows is None:
                wrong.append((str(op), name, "is not scoped"))
                continue
            checked += 1
            stranger = foreign.of(rows.model).pk
            key = own.of(op.fresh_view().queryset.model).pk if op.is_detail else 0
            body = {name: [stranger] if inner is not field else stranger}
            answer = getattr(client, op.method)(op.at(key), body, HTTP_IF_MATCH="*")
            codes = {e["pointer"]: e["code"] for e in answer.json().get("errors", [])}
            if codes.get(f"#/{name}", codes.get(f"#/{name}/0")) != "does_not_exist":
                wrong.append((str(op), name, answer.status_code))
    assert not wrong, "\n".join(map(str, wrong))
    assert checked >= 8
