"""What messages say, how they are handed over, how they are stopped."""

from __future__ import annotations

import hashlib
import hmac
import json
import re
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any, ClassVar

import pytest
from django.core import mail
from django.test import Client

from contractor.api.models import User
from contractor.engine.followup.opt_out import read_reply
from jobs.messages import gateways
from jobs.messages.compose import KINDS, LANGUAGES, SAMPLE, words
from jobs.models import Consent, Job
from jobs.services import sending

DUE = datetime(2026, 4, 2, 14, 0, tzinfo=UTC)
PARTS = ("subject", "txt", "html", "sms")


@pytest.mark.parametrize("kind", KINDS)
def test_languages_ask_for_the_same_facts(kind: str) -> None:
    folder = Path(__file__).parents[2] / "jobs/templates/messages"
    for part in PARTS:
        facts = [
            set(re.findall(r"{{ (\w+)", (folder / f"{kind}.{language}.{part}").read_text()))
            for language in LANGUAGES
        ]
        assert facts[0] == facts[1], part


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_message_names_sender_and_way_out(kind: str, language: str) -> None:
    filled = words(kind, language, SAMPLE)
    for text in (filled.text, filled.html, filled.sms):
        assert SAMPLE["company"] in text
        assert SAMPLE["page"] in text
    assert SAMPLE["unsubscribe"] in filled.text
    assert SAMPLE["unsubscribe"] in filled.html
    word = re.findall(r"\b[A-Z]{4,}\b", filled.sms)[-1]
    assert read_reply(word).meaning == "opt_out"
    assert "\n" not in filled.subject


def test_plain_text_stays_plain_and_html_is_escaped() -> None:
    filled = words("re_tightening", "en", {**SAMPLE, "company": "O'Brien & Sons <Ltd>"})
    assert "O'Brien & Sons <Ltd>" in filled.text
    assert filled.sms.startswith("O'Brien & Sons <Ltd>:")
    assert "O&#x27;Brien &amp; Sons &lt;Ltd&gt;" in filled.html


@pytest.mark.django_db
def test_previews_in_the_admin(users: dict[str, User]) -> None:
    client = Client()
    assert client.get("/admin/jobs/reminder/messages").status_code == 302  # to the login
    operator = users["owner"]
    client.force_login(operator, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/admin/jobs/reminder/messages").status_code == 302
    operator.is_staff = operator.is_superuser = True
    operator.save()
    page = client.get("/admin/jobs/reminder/messages").content.decode()
    for text in ("Time to check the braces at 12 Alder Lane", "Responda ALTO", "never more"):
        assert text in page
    html = client.get("/admin/jobs/reminder/messages/extra_reading.es.html")
    assert "No apriete" in html.content.decode()
    assert client.get("/admin/jobs/reminder/messages/other.en.html").status_code == 404
    assert client.get("/admin/jobs/reminder/").status_code == 200
    assert client.get("/admin/jobs/reminder/add/").status_code == 403


@pytest.fixture
def unsubscribe(installed: Job) -> str:
    """The path that a reminder's List-Unsubscribe header names."""
    assert sending.send_due(DUE) == 1
    header = mail.outbox[0].extra_headers["List-Unsubscribe"]
    found = re.fullmatch(r"<(https?://[^/>]+)(/u/[^>]+)>", header)
    assert found is not None
    return found[2]


def live(job: Job) -> int:
    return Consent.objects.filter(customer=job.site.customer_id, revoked_at__isnull=True).count()


@pytest.mark.django_db(transaction=True)
def test_one_click_unsubscribe(installed: Job, unsubscribe: str) -> None:
    """RFC 8058: 3.1 both headers; 3.2 the POST carries one key, no cookies, and is not
    redirected; 2 a GET (a mail scanner's) must not unsubscribe."""
    headers = mail.outbox[0].extra_headers
    assert headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    client = Client(enforce_csrf_checks=True)
    for _ in range(3):
        assert client.get(unsubscribe).status_code == 200
        assert client.head(unsubscribe).status_code == 200
    assert live(installed) == 1
    answer = client.post(unsubscribe, {"List-Unsubscribe": "One-Click"})
    assert (answer.status_code, live(installed)) == (200, 0)
    assert client.post(unsubscribe, {"List-Unsubscribe": "One-Click"}).status_code == 200
    revoked = Consent.objects.get()
    assert (revoked.revoked_by, revoked.revoked_at is not None) == ("unsubscribe link", True)
    sent = len(mail.outbox)
    sending.send_due(datetime(2026, 6, 2, 14, 0, tzinfo=UTC))
    assert len(mail.outbox) == sent


@pytest.mark.django_db(transaction=True)
def test_forged_unsubscribe_link_does_nothing(installed: Job, unsubscribe: str) -> None:
    forged = unsubscribe[:-4] + ("AAAA" if not unsubscribe.endswith("AAAA") else "BBBB")
    assert Client().post(forged).status_code == 404
    assert live(installed) == 1


class Receiver(BaseHTTPRequestHandler):
    """A text gateway's receiving end; ``status`` is what it answers."""

    status: ClassVar[int] = 202
    seen: ClassVar[list[tuple[str, str, dict[str, str], bytes]]] = []

    def _answer(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        self.seen.append((self.command, self.path, dict(self.headers), body))
        self.send_response(self.status)
        self.end_headers()

    do_GET = do_POST = _answer  # noqa: N815 - the library's names

    def log_message(self, *args: Any) -> None:
        pass


@pytest.fixture
def receiver(settings: Any) -> Iterator[type[Receiver]]:
    server = HTTPServer(("127.0.0.1", 0), Receiver)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    Receiver.seen.clear()
    settings.TEXT_GATEWAY_URL = f"http://127.0.0.1:{server.server_port}/texts"
    settings.TEXT_GATEWAY_SECRET = "a secret of two"
    yield Receiver
    server.shutdown()
    thread.join()


def text() -> gateways.Message:
    return gateways.Message("id-1", "text", "555-0101", "", "time to check", "", {})


def test_http_gateway_signs_and_carries_its_key(receiver: type[Receiver]) -> None:
    receiver.status = 202
    gateways.HttpTextGateway().send(text())
    [(method, path, headers, body)] = receiver.seen
    assert (method, path, headers["Idempotency-Key"]) == ("POST", "/texts", "id-1")
    assert json.loads(body) == {"id": "id-1", "to": "555-0101", "text": "time to check"}
    wanted = hmac.new(b"a secret of two", b"id-1." + body, hashlib.sha256).hexdigest()
    assert headers["Signature"] == f"hmac-sha256={wanted}"


@pytest.mark.parametrize(
    ("status", "error"),
    [(410, gateways.RefusedError), (422, gateways.RefusedError), (503, gateways.BusyError)],
)
def test_http_gateway_tells_never_from_not_now(
    receiver: type[Receiver], status: int, error: type[Exception]
) -> None:
    receiver.status = status
    with pytest.raises(error):
        gateways.HttpTextGateway().send(text())


@pytest.mark.parametrize(("status", "knows"), [(200, True), (404, False), (500, None)])
def test_http_gateway_is_asked_afterwards(
    receiver: type[Receiver], status: int, knows: bool | None
) -> None:
    receiver.status = status
    assert gateways.HttpTextGateway().was_sent("id-1") is knows
    assert receiver.seen[0][:2] == ("GET", "/texts/id-1")


def test_gateway_that_does_not_answer_knows_nothing(settings: Any) -> None:
    settings.TEXT_GATEWAY_URL, settings.TEXT_GATEWAY_SECRET = "http://127.0.0.1:9", "s"
    assert gateways.HttpTextGateway().was_sent("id-1") is None
    with pytest.raises(gateways.BusyError):
        gateways.HttpTextGateway().send(text())


def test_console_gateway_writes_and_cannot_be_asked(capsys: pytest.CaptureFixture[str]) -> None:
    gateways.ConsoleTextGateway().send(text())
    assert capsys.readouterr().out == "text to 555-0101: time to check\n"
    assert gateways.ConsoleTextGateway().was_sent("id-1") is None
