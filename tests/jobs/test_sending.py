"""One message per due reminder, whatever happens on the way."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core import mail

from contractor.api.models import Event
from jobs.messages import gateways
from jobs.models import Consent, Job, Reminder
from jobs.services import customers, followup, readings, sending

pytestmark = pytest.mark.django_db(transaction=True)
DUE = datetime(2026, 4, 2, 14, 0, tzinfo=UTC)
R = Reminder.Status


def first(job: Job) -> Reminder:
    return job.reminders.order_by("due_on")[0]


def test_nothing_leaves_before_its_time(installed: Job) -> None:
    assert sending.send_due(DUE - timedelta(minutes=1)) == 0
    assert mail.outbox == []


def test_due_reminder_leaves_once(installed: Job) -> None:
    assert sending.send_due(DUE) == 1
    assert sending.send_due(DUE + timedelta(minutes=1)) == 0
    reminder = first(installed)
    assert (reminder.status, len(mail.outbox)) == (R.SENT, 1)
    message = mail.outbox[0]
    assert message.to == ["alder@example.org"]
    assert message.extra_headers["Message-ID"].startswith(f"<{reminder.message_id}@")
    assert message.extra_headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert "50 ft-lb" in str(message.body)
    assert "never more" in str(message.body)


def test_after_downtime_one_message_not_ten(installed: Job) -> None:
    assert sending.send_due(datetime(2027, 1, 15, 18, 0, tzinfo=UTC)) == 1
    statuses = list(installed.reminders.order_by("due_on").values_list("status", flat=True))
    assert statuses.count(R.SENT) == 1
    late = statuses.index(R.SENT)
    assert set(statuses[:late]) == {R.SUPERSEDED}
    assert set(statuses[late + 1 :]) == {R.DUE}
    assert len(mail.outbox) == 1


def test_quiet_hours_move_the_message(installed: Job) -> None:
    night = datetime(2026, 4, 3, 4, 0, tzinfo=UTC)  # midnight in New York
    assert sending.send_due(night) == 0
    assert first(installed).not_before.isoformat() == "2026-04-03T12:00:00+00:00"  # 08:00 there
    assert sending.send_due(datetime(2026, 4, 3, 12, 0, tzinfo=UTC)) == 1


def test_opt_out_holds_at_once(installed: Job) -> None:
    customers.opt_out(installed.site.customer_id, channel=None, by="phone", at=DUE)
    assert sending.send_due(DUE) == 0
    assert (first(installed).status, mail.outbox) == (R.NO_CHANNEL, [])
    assert Event.objects.filter(kind="reminder.no_channel").count() == 1


class DyingGateway:
    """Takes the message (or not) and takes the sender down with it."""

    def __init__(self, *, has_it: bool | None, takes: bool) -> None:
        self.has_it, self.takes = has_it, takes
        self.taken: list[str] = []

    def send(self, message: gateways.Message) -> None:
        if self.takes:
            self.taken.append(message.message_id)
        raise KeyboardInterrupt

    def was_sent(self, message_id: str) -> bool | None:
        return self.has_it


@pytest.mark.parametrize(("has_it", "then"), [(True, R.SENT), (False, R.DUE), (None, R.UNKNOWN)])
def test_crash_between_send_and_record(
    installed: Job, monkeypatch: pytest.MonkeyPatch, has_it: bool | None, then: str
) -> None:
    gateway = DyingGateway(has_it=has_it, takes=bool(has_it))
    monkeypatch.setattr(gateways, "gateway_for", lambda channel: gateway)
    with pytest.raises(KeyboardInterrupt):
        sending.send_due(DUE)
    assert first(installed).status == R.SENDING
    assert sending.settle_silent(DUE + timedelta(minutes=1)) == 0  # its lease still runs
    assert sending.send_due(DUE + timedelta(minutes=1)) == 0
    assert sending.settle_silent(DUE + timedelta(minutes=3)) == 1
    assert first(installed).status == then


def test_unknown_is_for_a_person(installed: Job) -> None:
    Reminder.objects.filter(pk=first(installed).pk).update(status=R.UNKNOWN)
    assert sending.send_due(DUE) == 0
    sending.resolve_unknown(first(installed).pk, was_sent=False)
    assert sending.send_due(DUE + timedelta(minutes=1)) == 1


class RefusingGateway:
    def send(self, message: gateways.Message) -> None:
        raise gateways.RefusedError("no such mailbox")

    def was_sent(self, message_id: str) -> bool | None:
        return False


def test_bounce_rests_the_channel_and_tells_the_office(
    installed: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gateways, "gateway_for", lambda channel: RefusingGateway())
    assert sending.send_due(DUE) == 0
    consent = Consent.objects.get(customer=installed.site.customer_id)
    assert (consent.is_stopped, consent.stopped_why) == (True, "no such mailbox")
    assert Event.objects.filter(kind="channel.stopped").count() == 1
    sending.send_due(DUE + timedelta(hours=1))
    assert first(installed).status == R.NO_CHANNEL


def test_spanish_text_message(installed: Job, settings: Any, tmp_path: Any) -> None:
    settings.STATE_DIR = tmp_path
    customer = installed.site.customer
    customer.language = "es"
    customer.save()
    customers.grant_consent(customer.pk, channel="text", source="phone", at=DUE - timedelta(days=1))
    assert sending.send_due(DUE) == 1
    [file] = (tmp_path / "texts").iterdir()
    assert "Responda ALTO" in file.read_text()
    assert gateways.FileTextGateway().was_sent(first(installed).message_id) is True


def test_nobody_is_asked_to_tighten_a_wall_on_hold(installed: Job) -> None:
    request = readings.ask_for_visit(
        installed.pk, reason="something_wrong", detail="", on=DUE.date()
    )
    assert sending.send_due(DUE) == 0
    assert first(installed).status == R.DUE
    assert first(installed).not_before >= DUE + timedelta(days=1)
    readings.finish_visit_request(request.pk, is_done=True)
    assert sending.send_due(DUE + timedelta(days=1, minutes=1)) == 1


def test_a_wall_on_hold_is_still_to_be_measured(installed: Job) -> None:
    readings.ask_for_visit(installed.pk, reason="moving_in", detail="", on=DUE.date())
    followup.date_extra_reading(installed, DUE.date() - timedelta(days=30))
    assert sending.send_due(DUE) == 1
    assert "Do not tighten" in str(mail.outbox[0].body)
    assert first(installed).status == R.DUE
