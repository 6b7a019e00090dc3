"""Who acts in this thread of work: a user of a request, or the system."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_actor: ContextVar[str] = ContextVar("actor", default="system")


def current_actor() -> str:
    """Return "user:<pk>", "token:<pk>", "link:<pk>" or "system"."""
    return _actor.get()


@contextmanager
def acting_as(actor: str) -> Iterator[None]:
    """Name ``actor`` in every event and audit entry written inside."""
    token = _actor.set(actor)
    try:
        yield
    finally:
        _actor.reset(token)


def now_acting_as(actor: str) -> None:
    """Name the actor for the rest of the enclosing ``acting_as`` block."""
    _actor.set(actor)
