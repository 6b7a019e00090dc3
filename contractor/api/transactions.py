"""``@service``: one verb, one transaction.

A service opens a durable transaction of its own. Under the idempotency layer it joins the
transaction that also writes the remembered answer, so that effect and answer are stored
together or not at all. A service called by a service is refused in both cases: a shared step
is a private function that takes locked rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import ParamSpec, TypeVar

from django.db import transaction

P = ParamSpec("P")
R = TypeVar("R")

_joined: ContextVar[bool] = ContextVar("joined", default=False)
_serving: ContextVar[str] = ContextVar("serving", default="")


def service(function: Callable[P, R]) -> Callable[P, R]:
    """Run ``function`` in one transaction: its own (durable), or the idempotency layer's.

    Inside the idempotency layer the service is a savepoint: a refusal undoes what the service
    wrote, and a bulk request can go on with its next row.
    """

    @wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        if outer := _serving.get():
            raise RuntimeError(f"service {function.__qualname__} called inside service {outer}")
        mark = _serving.set(function.__qualname__)
        try:
            with transaction.atomic(durable=not _joined.get()):
                return function(*args, **kwargs)
        finally:
            _serving.reset(mark)

    return run


@contextmanager
def joined_transaction() -> Iterator[None]:
    """Open a durable transaction that services called inside become part of."""
    mark = _joined.set(True)
    try:
        with transaction.atomic(durable=True):
            yield
    finally:
        _joined.reset(mark)
