"""Every operation that writes: its example works, its answer is as documented, it leaves who,
when, what, before and after, and nothing that is not the caller's can be slipped in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.utils import timezone

from contractor import queue
from contractor.api.models import Branch, Membership, User
from tests.api.acts import Chapter, World, checks, crews, homes, kits, office, questions, stock
from tests.api.operations import operations
from tests.api.rows import Rows
from tests.conftest import ApiTester

MONDAY = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
CHAPTERS = {
    "office": office.chapter,
    "stock": stock.chapter,
    "kits": kits.chapter,
    "homes": homes.chapter,
    "crews": crews.chapter,
    "questions": questions.chapter,
}
# How many keys of rows the bodies of a chapter hold: each is changed for a stranger's.
LEAST_KEYS = {"office": 4, "stock": 20, "kits": 12, "homes": 7, "crews": 12, "questions": 0}


@pytest.fixture
def world(
    branch: Branch,
    other_branch: Branch,
    foreign_branch: Branch,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
    settings: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> World:
    """A company on a Monday; due work is done when a step says so."""
    settings.RATE_LIMIT = "1000000/60"
    settings.WEBHOOK_ALLOWED_HOSTS = ["hooks.example.org"]
    monkeypatch.setattr(timezone, "now", lambda: MONDAY)
    both = make_user("owner", branch)
    Membership.objects.create(user=both, branch=other_branch, role="owner")
    return World(
        branch=branch,
        other=other_branch,
        strangers=Rows(foreign_branch),
        neighbours=Rows(other_branch),
        owner=client_for(make_user("owner", branch)),
        other_owner=client_for(make_user("owner", other_branch)),
        both=client_for(both),
        work=queue.drain,
    )


def test_no_operation_is_left_out() -> None:
    writing = {str(op) for op in operations() if op.method not in ("get", "head")}
    performed = [operation for chapter in CHAPTERS.values() for operation in chapter.operations]
    assert sorted(performed) == sorted(writing)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", CHAPTERS)
def test_each_operation_of(name: str, world: World) -> None:
    chapter: Chapter = CHAPTERS[name]
    assert checks.run(world, chapter) >= LEAST_KEYS[name]


def test_what_reads_a_body_shows_one() -> None:
    lacking = []
    for path, methods in checks.reference()["paths"].items():
        for method, operation in methods.items():
            content = operation.get("requestBody", {}).get("content", {}).get("application/json")
            name = f"{method.upper()} {path}"
            if content and "examples" not in content:
                lacking.append(name)
    assert lacking == []
