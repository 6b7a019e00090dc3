"""Every POST of the URL table, from a client that breaks off, overlaps and repeats.

The requests are those of ``acts``, where a POST without a step fails a test.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.acts import World, checks
from tests.api.hostile import everything_stored, one_effect
from tests.api.operations import operations
from tests.api.test_acts import CHAPTERS, world
from tests.conftest import ApiTester

__all__ = ["world"]  # the fixture
POSTS = {str(op) for op in operations() if op.method == "post" and not op.view.stores_nothing}
# The clock of the chapters stands still, and what is sent again is due already.
NOTHING_LEFT_TO_DO = {
    "POST /api/v1/webhook-deliveries/{pk}/resend",
    "POST /api/v1/webhook-endpoints/{pk}/replay",
}


def perform(world: World, name: str, call: Any) -> Any:
    """Send the step; a POST that stores something is treated badly."""
    body = call.body if call.body is not None else {}
    if name not in POSTS:
        return checks.send(world, name, call, body)
    path = name.partition(" ")[2]
    client = call.client or world.owner

    def send(key: str) -> Any:
        for part in body.values() if call.multipart else ():
            if hasattr(part, "seek"):
                part.seek(0)
        return client.post(
            path.replace("{pk}", str(call.key)),
            body,
            format="multipart" if call.multipart else "json",
            HTTP_IF_MATCH="*",
            HTTP_IDEMPOTENCY_KEY=key,
        )

    return one_effect(name, send, has_effect=name not in NOTHING_LEFT_TO_DO)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("chapter", CHAPTERS)
def test_each_effect_comes_exactly_once(chapter: str, world: World) -> None:
    for name, function in CHAPTERS[chapter].steps:
        step = function(world)
        answer = perform(world, name, next(step))
        assert 200 <= answer.status_code < 300, (name, answer.content)
        with pytest.raises(StopIteration):
            step.send(answer.json() if answer.content else None)


def test_no_post_is_left_out() -> None:
    performed = {name for chapter in CHAPTERS.values() for name in chapter.operations}
    assert len(POSTS) >= 106
    assert sorted(POSTS - performed) == []


def test_calculators_store_nothing(owner: ApiTester) -> None:
    """They need no key, for a repeated calculation has no effect that could double."""
    free = [op for op in operations() if op.method == "post" and op.view.stores_nothing]
    assert len(free) >= 8
    before = everything_stored()
    for op in free:
        owner.post(op.path, {}, HTTP_IDEMPOTENCY_KEY="")
    assert everything_stored() == before
