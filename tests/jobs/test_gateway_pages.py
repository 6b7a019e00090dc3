"""What the text gateway tells us: replies and failures, signed, each once."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from contractor.api.models import Event
from jobs.models import Consent, Job, TextReply
from jobs.pages.gateway import signature_of
from jobs.services import customers, sending

pytestmark = pytest.mark.django_db(transaction=True)
SECRET = "a secret of two"


@pytest.fixture(autouse=True)
def _secret(settings: Any) -> None:
    settings.TEXT_GATEWAY_SECRET = SECRET


@pytest.fixture
def texted(installed: Job) -> Job:
    """The homeowner of an installed job gets texts."""
    customer = installed.site.customer
    customer.phone = "(202) 555-0101"
    customer.save()
    customers.choose_channel(
        installed.site.customer_id, channel="text", address="", at=timezone.now()
    )
    return installed


def told(
    path: str, values: Any, *, key: str = "reply-1", late_s: int = 0, secret: str = SECRET
) -> Any:
    body = json.dumps(values).encode()
    stamp = str(int(timezone.now().timestamp()) - late_s)
    return Client(enforce_csrf_checks=True).post(
        f"/gateway/{path}",
        body,
        content_type="application/json",
        headers={
            "Idempotency-Key": key,
            "Timestamp": stamp,
            "Signature": signature_of(secret, key, stamp, body),
        },
    )


def live(job: Job) -> list[str]:
    rows = Consent.objects.filter(customer=job.site.customer_id, revoked_at__isnull=True)
    return [one.channel for one in rows.filter(is_stopped=False)]


@pytest.mark.parametrize("word", ["STOP", "  unsubscribe ", "ALTO", "Please stop all texts now"])
def test_opt_out_word_holds_at_once_and_is_answered_once(texted: Job, word: str) -> None:
    """47 CFR 64.1200(a)(10): a reply of "stop" and its like revokes consent."""
    answer = told("replies", {"from": "+1 202 555 0101", "text": word})
    assert answer.status_code == 200
    assert answer.json()["meaning"] == "opt_out"
    assert live(texted) == []
    assert sending.send_due(timezone.now() + timedelta(days=400)) == 0


def test_the_same_reply_twice_is_one(texted: Job) -> None:
    for _ in range(3):
        told("replies", {"from": "202-555-0101", "text": "hello, who is this?"})
    assert TextReply.objects.count() == 1


def test_start_again(texted: Job) -> None:
    told("replies", {"from": "202-555-0101", "text": "stop"})
    told("replies", {"from": "202-555-0101", "text": "start"}, key="reply-2")
    assert live(texted) == ["text"]
    assert Consent.objects.get(revoked_at__isnull=True).source == "text reply"


def test_unclear_reply_holds_messages_until_somebody_has_read_it(texted: Job) -> None:
    told("replies", {"from": "202-555-0101", "text": "cancel my visit on Monday please, not more"})
    reply = TextReply.objects.get()
    assert reply.meaning == "ask_office"
    assert Event.objects.filter(kind="reply.waiting").count() == 1


def test_failed_number_rests_the_channel_and_tells_the_office(texted: Job) -> None:
    answer = told("failures", {"channel": "text", "to": "+12025550101", "why": "no such number"})
    assert answer.json() == {"stopped": 1}
    assert live(texted) == []
    event = Event.objects.get(kind="channel.stopped")
    assert event.data["why"] == "no such number"
    again = told("failures", {"channel": "text", "to": "202-555-0101", "why": "x"}, key="reply-2")
    assert again.json() == {"stopped": 0}


def test_bounced_address_rests_the_channel(installed: Job) -> None:
    told("failures", {"channel": "email", "to": "ALDER@example.org", "why": "550 no mailbox"})
    assert live(installed) == []


@pytest.mark.parametrize(
    "fault", [{"secret": "another"}, {"late_s": 301}, {"late_s": -301}], ids=str
)
def test_unsigned_or_stale_is_not_let_in(texted: Job, fault: dict[str, Any]) -> None:
    assert told("replies", {"from": "202-555-0101", "text": "STOP"}, **fault).status_code == 401
    assert live(texted) == ["text"]


def test_without_a_secret_nobody_is_let_in(texted: Job, settings: Any) -> None:
    settings.TEXT_GATEWAY_SECRET = ""
    assert told("replies", {"from": "202-555-0101", "text": "STOP"}, secret="").status_code == 401


@pytest.mark.parametrize("values", [[], "STOP", {"from": 5, "text": "STOP"}, {"text": "STOP"}])
def test_what_cannot_be_read_is_refused(texted: Job, values: Any) -> None:
    assert told("replies", values).status_code == 400
    assert TextReply.objects.count() == 0
