"""Standard Webhooks 1.0.0; signatures are checked by the ``standardwebhooks`` package."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from standardwebhooks.webhooks import Webhook, WebhookVerificationError

from contractor.api import events, sealed
from contractor.api.keyed_pool import KeyedPool
from contractor.api.models import Branch, Event, WebhookAttempt, WebhookDelivery, WebhookEndpoint
from contractor.api.services import webhooks
from contractor.api.webhooks import delivering, publishing, retrying, sender
from tests.api import receivers
from tests.api.receivers import Hit, Receiver, receiver

pytestmark = pytest.mark.django_db


class Clock:
    """Time moves when a test says so."""

    def __init__(self) -> None:
        self.at = datetime.now(UTC).replace(microsecond=0)

    def __call__(self) -> datetime:
        return self.at

    def forward(self, step: timedelta) -> None:
        self.at += step


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def hook(settings: Any) -> Iterator[Receiver]:
    settings.WEBHOOK_ALLOWED_HOSTS = ["127.0.0.1"]
    with receiver() as made:
        yield made


@pytest.fixture
def endpoint(hook: Receiver, branch: Branch) -> tuple[WebhookEndpoint, str]:
    return webhooks.add_endpoint(company=branch.company, branch=None, url=hook.url)


def happen(branch: Branch, kind: str = "branch.changed", **data: Any) -> Event:
    events.record(kind, branch, branch=branch, **data)
    return Event.objects.latest("pk")


def run(endpoint: WebhookEndpoint, clock: Clock, *, timeout_s: float = 2.0) -> int:
    publishing.publish(at=clock())

    def send(url: str, body: bytes, headers: dict[str, str]) -> sender.Answer:
        return sender.post(url, body, headers, timeout_s=timeout_s)

    return delivering.deliver(endpoint.pk, now=clock, send=send)


def verified(hit: Hit, secret: str) -> dict[str, Any]:
    return dict(Webhook(secret).verify(hit.body, hit.headers))


def test_the_receiver_can_verify_what_it_gets(
    endpoint: tuple[WebhookEndpoint, str], hook: Receiver, branch: Branch, clock: Clock
) -> None:
    event = happen(branch, reason="renamed")
    assert run(endpoint[0], clock) == 1
    document = verified(hook.hits[0], endpoint[1])
    assert document["type"] == "branch.changed"
    assert document["data"] == {
        "reason": "renamed",
        "position": 1,
        "subject": f"branch:{branch.pk}",
        "version": 1,
        "branch": branch.pk,
    }
    assert datetime.fromisoformat(document["timestamp"]) == event.at
    assert hook.hits[0].headers["content-type"] == "application/json"
    with pytest.raises(WebhookVerificationError):
        Webhook("whsec_" + "A" * 44).verify(hook.hits[0].body, hook.hits[0].headers)


def test_the_secret_is_sealed_at_rest(endpoint: tuple[WebhookEndpoint, str]) -> None:
    row = WebhookEndpoint.objects.get()
    assert endpoint[1] not in row.secret
    assert sealed.unseal(row.secret) == endpoint[1]


def test_both_secrets_sign_for_a_day_after_a_rotation(
    endpoint: tuple[WebhookEndpoint, str], hook: Receiver, branch: Branch, clock: Clock
) -> None:
    row, old = endpoint
    _, new = webhooks.rotate_secret(row.pk, None, at=clock())
    happen(branch)
    run(row, clock)
    assert verified(hook.hits[0], old) == verified(hook.hits[0], new)
    clock.forward(timedelta(hours=24))
    happen(branch)
    run(row, clock)
    signatures = hook.hits[1].headers["webhook-signature"].split(" ")
    assert len(signatures) == 1


def test_a_retry_keeps_id_and_body_but_not_the_time(
    endpoint: tuple[WebhookEndpoint, str], hook: Receiver, branch: Branch, clock: Clock
) -> None:
    hook.answer = receivers.status(500)
    happen(branch)
    assert run(endpoint[0], clock) == 0
    assert run(endpoint[0], clock) == 0
    assert len(hook.hits) == 1  # not due yet
    clock.forward(timedelta(seconds=6))
    hook.answer = receivers.status(200)
    assert run(endpoint[0], clock) == 1
    first, second = hook.hits
    assert first.headers["webhook-id"] == second.headers["webhook-id"]
    assert first.body == second.body
    stamps = [int(hit.headers["webhook-timestamp"]) for hit in hook.hits]
    assert stamps[1] - stamps[0] == 6
    assert verified(second, endpoint[1])["type"] == "branch.changed"
    log = WebhookAttempt.objects.values_list("number", "outcome", "http_status")
    assert list(log) == [(1, "http_500", 500), (2, "ok", 200)]


@pytest.mark.parametrize(
    ("answer", "outcome"),
    [
        (receivers.status(500), "http_500"),
        (receivers.status(404), "http_404"),
        (receivers.hang, "timeout"),
        (receivers.drip, "timeout"),
        (receivers.reset, "broken_answer"),
    ],
)
def test_every_way_to_fail_is_a_failed_attempt(
    endpoint: tuple[WebhookEndpoint, str],
    hook: Receiver,
    branch: Branch,
    clock: Clock,
    answer: Any,
    outcome: str,
) -> None:
    hook.answer = answer
    happen(branch)
    started = time.monotonic()
    assert run(endpoint[0], clock, timeout_s=0.4) == 0
    assert time.monotonic() - started < 2
    delivery = WebhookDelivery.objects.get()
    assert (delivery.status, delivery.last_outcome) == ("pending", outcome)


def test_a_redirect_is_a_failure_and_is_not_followed(
    endpoint: tuple[WebhookEndpoint, str], hook: Receiver, branch: Branch, clock: Clock
) -> None:
    with receiver() as canary:
        hook.answer = receivers.status(307, Location=canary.url)
        happen(branch)
        assert run(endpoint[0], clock) == 0
        assert canary.hits == []
    assert WebhookDelivery.objects.get().last_outcome == "redirect"


def test_a_dead_receiver_is_tried_for_three_days_then_paused_with_an_alarm(
    endpoint: tuple[WebhookEndpoint, str], hook: Receiver, branch: Branch, clock: Clock
) -> None:
    row = endpoint[0]
    WebhookEndpoint.objects.update(url="http://127.0.0.1:9/closed")
    happen(branch)
    started, times = clock(), []
    for _ in range(11):
        run(row, clock)
        delivery = WebhookDelivery.objects.get()
        if delivery.status != "pending":
            break
        times.append(clock() - started)
        clock.at = delivery.next_at
    assert delivery.status == "failed"
    assert delivery.last_outcome == "no_connection"
    assert delivery.attempts == 10
    waits = [b - a for a, b in zip(times, [*times[1:], clock() - started], strict=True)]
    for wait, planned in zip(waits, retrying.WAITS, strict=True):
        assert planned <= wait <= planned * 1.1
    assert timedelta(days=3) <= clock() - started <= timedelta(days=3.6)
    row.refresh_from_db()
    assert row.status == "paused"
    alarm = Event.objects.get(kind="webhook_endpoint.paused")
    assert alarm.company_id == branch.company_id
    assert alarm.subject == f"webhookendpoint:{row.pk}"


def test_what_waits_is_sent_after_a_pause(
    endpoint: tuple[WebhookEndpoint, str], hook: Receiver, branch: Branch, clock: Clock
) -> None:
    row = endpoint[0]
    webhooks.pause(row.pk, None)
    happen(branch)
    clock.forward(timedelta(days=7))
    assert run(row, clock) == 0
    webhooks.resume(row.pk, None, at=clock())
    assert run(row, clock) == 1


def test_410_disables_the_endpoint(
    endpoint: tuple[WebhookEndpoint, str], hook: Receiver, branch: Branch, clock: Clock
) -> None:
    hook.answer = receivers.status(410)
    happen(branch)
    run(endpoint[0], clock)
    endpoint[0].refresh_from_db()
    assert endpoint[0].status == "disabled"
    happen(branch)
    publishing.publish(at=clock())
    assert WebhookDelivery.objects.count() == 1  # nothing new is queued for it


def test_retry_after_is_honoured_for_the_whole_endpoint(
    endpoint: tuple[WebhookEndpoint, str],
    hook: Receiver,
    branch: Branch,
    other_branch: Branch,
    clock: Clock,
) -> None:
    hook.answer = receivers.status(429, Retry_After="120")
    happen(branch)
    run(endpoint[0], clock)
    happen(other_branch)
    clock.forward(timedelta(seconds=119))
    run(endpoint[0], clock)
    assert len(hook.hits) == 1
    hook.answer = receivers.status(200)
    clock.forward(timedelta(seconds=1))
    assert run(endpoint[0], clock) == 2


def test_nothing_overtakes_an_earlier_event_of_its_subject(
    endpoint: tuple[WebhookEndpoint, str],
    hook: Receiver,
    branch: Branch,
    other_branch: Branch,
    clock: Clock,
) -> None:
    first = happen(branch, step=1)
    hook.answer = receivers.status(500)
    run(endpoint[0], clock)
    hook.answer = receivers.status(200)
    happen(branch, step=2)
    other = happen(other_branch, step=3)
    run(endpoint[0], clock)
    seen = [json.loads(hit.body)["data"]["step"] for hit in hook.hits]
    assert seen == [1, 3]
    clock.forward(timedelta(seconds=6))
    assert run(endpoint[0], clock) == 2
    assert [json.loads(hit.body)["data"]["step"] for hit in hook.hits] == [1, 3, 1, 2]
    assert first.subject != other.subject


def test_only_one_of_two_senders_gets_a_delivery(
    endpoint: tuple[WebhookEndpoint, str], branch: Branch, clock: Clock
) -> None:
    happen(branch)
    publishing.publish(at=clock())
    assert delivering._claim(endpoint[0].pk, clock()) is not None
    assert delivering._claim(endpoint[0].pk, clock()) is None
    clock.forward(delivering.LEASE)  # the first sender died
    again = delivering._claim(endpoint[0].pk, clock())
    assert again is not None
    assert again.attempts == 2
    late = sender.Answer("http_500", 500)
    delivering._settle(again.pk, 1, late, clock(), clock())
    assert WebhookAttempt.objects.count() == 0  # a late finisher writes nothing
    delivering._settle(again.pk, 2, sender.Answer("ok", 200), clock(), clock())
    assert WebhookDelivery.objects.get().status == "delivered"


def test_events_get_gapless_positions_in_the_order_of_their_commit(branch: Branch) -> None:
    for number in range(5):
        happen(branch, number=number)
    at = datetime.now(UTC)
    assert publishing.publish(at=at) == 5
    assert publishing.publish(at=at) == 0
    assert list(Event.objects.order_by("pk").values_list("position", flat=True)) == [1, 2, 3, 4, 5]


@pytest.mark.parametrize(
    ("kinds", "is_wanted"),
    [([], True), (["kit.*"], True), (["kit.reserved"], True), (["job.*", "kit.cut"], False)],
)
def test_an_endpoint_gets_the_kinds_it_asked_for(
    hook: Receiver, branch: Branch, kinds: list[str], is_wanted: bool
) -> None:
    webhooks.add_endpoint(company=branch.company, branch=None, url=hook.url, kinds=kinds)
    happen(branch, "kit.reserved")
    publishing.publish(at=datetime.now(UTC))
    assert WebhookDelivery.objects.exists() == is_wanted


def test_events_of_others_are_not_sent(
    hook: Receiver, branch: Branch, other_branch: Branch, foreign_branch: Branch
) -> None:
    webhooks.add_endpoint(company=branch.company, branch=branch, url=hook.url)
    happen(other_branch)
    happen(foreign_branch)
    publishing.publish(at=datetime.now(UTC))
    assert not WebhookDelivery.objects.exists()


def test_replay_sends_again_under_the_same_id(
    endpoint: tuple[WebhookEndpoint, str], hook: Receiver, branch: Branch, clock: Clock
) -> None:
    for number in range(3):
        happen(branch, number=number)
    run(endpoint[0], clock)
    assert webhooks.replay(endpoint[0].pk, after=1, at=clock()) == 2
    assert run(endpoint[0], clock) == 2
    ids = [hit.headers["webhook-id"] for hit in hook.hits]
    assert ids[3:] == ids[1:3]


def test_a_new_endpoint_can_be_filled_from_the_past(
    hook: Receiver, branch: Branch, clock: Clock
) -> None:
    for number in range(3):
        happen(branch, number=number)
    publishing.publish(at=clock())
    row, _ = webhooks.add_endpoint(company=branch.company, branch=None, url=hook.url)
    assert webhooks.replay(row.pk, after=0, at=clock()) == 3
    assert run(row, clock) == 3


def test_an_endpoint_whose_secret_cannot_be_opened_fails_visibly(
    endpoint: tuple[WebhookEndpoint, str], branch: Branch, clock: Clock, settings: Any
) -> None:
    settings.SECRET_KEY = "changed without a fallback"
    happen(branch)
    run(endpoint[0], clock)
    assert WebhookDelivery.objects.get().last_outcome == "secret_unreadable"


def test_a_hanging_endpoint_does_not_delay_the_others() -> None:
    release, done = threading.Event(), []

    def work(endpoint: int) -> None:
        if endpoint == 1:
            release.wait(5)
        done.append(endpoint)

    pool = KeyedPool(work, threads=4, name="test")
    assert pool.start([1, 2, 3]) == 3
    deadline = time.monotonic() + 5
    while len(done) < 2 and time.monotonic() < deadline:
        time.sleep(0.01)
    assert sorted(done) == [2, 3]
    assert pool.start([1]) == 0  # still busy: never two at a time
    release.set()
    pool.finish(5)
    assert sorted(done) == [1, 2, 3]
