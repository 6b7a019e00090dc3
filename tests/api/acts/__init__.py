"""Every operation that writes, performed once: five chapters of a company's life.

A chapter is a list of steps in the order in which they can happen. A step sends the example of
the reference where there is one, with keys of its own rows in place of the keys shown.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Model

import contractor.urls  # noqa: F401 - apps show their examples with their addresses
from contractor.api.examples import example_of
from contractor.api.models import Branch
from tests.api.rows import Rows
from tests.conftest import ApiTester

API = "/api/v1"


@dataclass
class Call:
    """One request. ``rows`` names the model behind members that are plain numbers.

    ``trail``: "audit" (stock: the ledger), "events" for rows whose events tell who and what,
    "" for what keeps nothing of the account.
    """

    body: Any = None
    key: int | None = None
    rows: dict[str, type[Model]] = field(default_factory=dict)
    multipart: bool = False
    trail: str = "audit"
    joins_branches: bool = False
    own: frozenset[str] = frozenset()
    """Members that are keys too, but refused row by row."""
    client: ApiTester | None = None


Step = Callable[["World"], Generator[Call, Any, None]]


@dataclass
class World:
    """What a chapter has made so far; steps hang their rows on it by name.

    ``strangers`` are rows of another company, ``neighbours`` of another branch of this one, where
    ``owner`` has no role; ``other_owner`` is at home there, ``both`` here and there.
    """

    branch: Branch
    other: Branch
    strangers: Rows
    neighbours: Rows
    owner: ApiTester
    other_owner: ApiTester
    both: ApiTester
    work: Callable[[], object]
    rows: dict[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.rows[name]

    def __setitem__(self, name: str, value: Any) -> None:
        self.rows[name] = value

    def get(self, path: str) -> Any:
        answer = self.owner.get(f"{API}/{path}")
        assert answer.status_code == 200, (path, answer.content)
        return answer.json()

    def post(self, path: str, body: Any = None) -> Any:
        """Do what is needed before a step and is a step elsewhere."""
        answer = self.owner.post(f"{API}/{path}", body or {}, HTTP_IF_MATCH="*")
        assert answer.status_code in (200, 201, 202), (path, answer.content)
        return answer.json()


class Chapter:
    """Steps by the name of their operation, in order."""

    def __init__(self) -> None:
        self.steps: list[tuple[str, Step]] = []

    def step(self, operation: str) -> Callable[[Step], Step]:
        """Register a step: ``@step("POST kits/{pk}/pull")``."""
        method, _, path = operation.partition(" ")

        def register(function: Step) -> Step:
            self.steps.append((f"{method} {API}/{path}", function))
            return function

        return register

    @property
    def operations(self) -> set[str]:
        return {name for name, _ in self.steps}


def shown(operation: str, **own: Any) -> Any:
    """Return the example of an operation with ``own`` keys in place of those shown.

    ``lines_0_part=7`` replaces ``#/lines/0/part``.
    """
    method, _, path = operation.partition(" ")
    body = copy.deepcopy(example_of(method, f"/{path}".replace("{pk}", "{id}")))
    assert body is not None, f"the reference shows no example of {operation}"
    for name, value in own.items():
        replace_at(body, [int(w) if w.isdigit() else w for w in split_path(name, body)], value)
    return body


def split_path(name: str, body: Any) -> list[str]:
    """Split ``lines_0_order_line`` where the members of ``body`` say."""
    if isinstance(body, dict):
        for member, inner in body.items():
            if name == member:
                return [member]
            if name.startswith(member + "_") and isinstance(inner, dict | list):
                return [member, *split_path(name[len(member) + 1 :], inner)]
    if isinstance(body, list):
        number, _, rest = name.partition("_")
        return [number, *(split_path(rest, body[int(number)]) if rest else [])]
    raise KeyError(name)


def replace_at(body: Any, path: list[Any], value: Any) -> None:
    for word in path[:-1]:
        body = body[word]
    body[path[-1]] = value
