"""Treat every POST badly: cut the power, send it twice at once, lose the answer and send again.

What a killed process leaves behind, with real servers, is in ``test_hostile_client``.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable
from typing import Any
from unittest import mock

from django.apps import apps

from contractor.api import idempotency
from contractor.api.models import RememberedAnswer

Send = Callable[[], Any]


class PowerCutError(Exception):
    """Nothing catches it."""


def everything_stored() -> str:
    """Return a digest of all rows of all tables, but for remembered answers and times of use."""
    digest = hashlib.sha256()
    for model in apps.get_models():
        if model is RememberedAnswer:
            continue
        columns = [column.attname for column in model._meta.concrete_fields]
        names = [name for name in columns if name != "last_used_at"]
        for row in model._base_manager.order_by("pk").values_list(*names):
            digest.update(repr((model._meta.label, row)).encode())
    return digest.hexdigest()


def one_effect(name: str, send: Callable[[str], Any], *, has_effect: bool = True) -> Any:
    """Do everything to ``send(key)``; return the answer. Asserts that the effect came once."""
    key = str(uuid.uuid4())

    def again() -> Any:
        return send(key)

    before = everything_stored()
    cut_the_power(name, again)
    assert everything_stored() == before, f"{name}: something stayed after the power cut"
    first, meanwhile = send_twice_at_once(name, again)
    assert 200 <= first.status_code < 300, (name, first.content)
    assert (meanwhile.status_code, meanwhile["Retry-After"]) == (409, "2"), name
    after = everything_stored()
    assert (after != before) is has_effect, name
    retried = again()
    assert (retried.status_code, retried.content) == (first.status_code, first.content), name
    assert everything_stored() == after, f"{name}: the retry had an effect of its own"
    return first


def cut_the_power(name: str, send: Send) -> None:
    """Send it, and let everything end after effect and answer were written, before the commit."""
    with mock.patch.object(idempotency, "_replay", side_effect=PowerCutError) as cut:
        answer = send()
    assert cut.called, f"{name} never came to its effect: {answer.content!r}"
    assert answer.status_code == 500, name


def send_twice_at_once(name: str, send: Send) -> tuple[Any, Any]:
    """Return (answer, answer of the same request that came while the first one ran)."""
    seen: list[Any] = []
    keep = idempotency._act_and_keep

    def meanwhile(*args: Any, **options: Any) -> Any:
        seen.append(send())
        return keep(*args, **options)

    with mock.patch.object(idempotency, "_act_and_keep", meanwhile):
        first = send()
    assert len(seen) == 1, f"{name} was refused before its effect: {first.content!r}"
    return first, seen[0]
