"""The homeowner's page over plain HTTP: what a browser without script sends."""

from __future__ import annotations

import re
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from PIL import Image

from contractor.api.models import Event
from jobs.models import CareLog, Consent, FormPost, Job, Photo, Reading, Reminder
from jobs.pages.words.en import EN
from jobs.pages.words.es import ES
from jobs.services import links
from tests.jobs.test_readings import MOVING, add

pytestmark = pytest.mark.django_db
R = Reminder.Status


@pytest.fixture
def url(installed: Job) -> str:
    installed.branch.company.settings = {"phone": "555-0100"}
    installed.branch.company.save()
    return f"/h/{links.make_link(installed.pk, at=timezone.now())}"


@pytest.fixture
def phone() -> Client:
    return Client()


def key_of(page: Any) -> str:
    found = re.search(r'name="once" value="([^"]+)"', page.content.decode())
    assert found is not None
    return found[1]


def send(phone: Client, url: str, form: str, **values: Any) -> Any:
    values.setdefault("once", key_of(phone.get(url)))
    return phone.post(url, {"form": form, **values})


def first_reading(job: Job, inches: float = 1.25) -> None:
    Reading.objects.create(
        branch=job.branch,
        site=job.site,
        wall="north wall",
        kind="bow",
        at_ticks=120 * 64,
        height_ticks=48 * 64,
        value_ticks=round(inches * 64),
        measured_on=date(2026, 3, 2),
        source="crew",
    )


def test_page_says_what_to_do_and_is_kept_nowhere(phone: Client, url: str) -> None:
    page = phone.get(url)
    words = page.content.decode()
    assert page.status_code == 200
    assert "50 ft-lb" in words
    assert "Never more than" in words
    assert "555-0100" in words
    assert page["Cache-Control"] == "no-store"
    assert page["Referrer-Policy"] == "same-origin"
    assert "noindex" in page["X-Robots-Tag"]
    assert "unsafe-inline" not in page["Content-Security-Policy"]
    assert " style=" not in words


def test_both_languages_say_the_same_things(phone: Client, url: str, installed: Job) -> None:
    assert EN.keys() == ES.keys()
    holes = re.compile(r"{\w+}")
    assert {k: sorted(holes.findall(v)) for k, v in EN.items()} == {
        k: sorted(holes.findall(v)) for k, v in ES.items()
    }
    installed.site.customer.language = "es"
    installed.site.customer.save()
    assert "Qué hacer" in phone.get(url).content.decode()
    assert "What to do" in phone.get(f"{url}?lang=en").content.decode()


def test_done_settles_the_latest_reminder(phone: Client, url: str, installed: Job) -> None:
    today = timezone.now().date()
    first, second, third = installed.reminders.order_by("due_on")[:3]
    installed.reminders.exclude(pk__in=[first.pk, second.pk, third.pk]).delete()
    Reminder.objects.filter(pk=first.pk).update(status=R.SENT, due_on=today - timedelta(days=90))
    Reminder.objects.filter(pk=second.pk).update(status=R.SENT, due_on=today - timedelta(days=3))
    Reminder.objects.filter(pk=third.pk).update(due_on=today + timedelta(days=60))
    answer = send(phone, url, "care", outcome="done")
    assert (answer.status_code, answer["Location"]) == (303, f"{url}?saved=care_done")
    assert "re-tightened" in phone.get(answer["Location"]).content.decode()
    statuses = [Reminder.objects.get(pk=one.pk).status for one in (first, second, third)]
    assert statuses == [R.SENT, R.DONE, R.DUE]
    assert CareLog.objects.get().reminder_id == second.pk
    assert Event.objects.get(kind="care.logged").actor.startswith("link:")


def test_could_not_asks_again_in_two_weeks(phone: Client, url: str, installed: Job) -> None:
    count = installed.reminders.count()
    send(phone, url, "care", outcome="could_not")
    assert installed.reminders.count() == count + 1
    newest = installed.reminders.order_by("-pk")[0]
    today = timezone.now().astimezone().date()
    assert abs((newest.due_on - today).days - 14) <= 1


def test_something_wrong_asks_for_a_visit_and_holds_the_wrench(
    phone: Client, url: str, installed: Job
) -> None:
    send(phone, url, "care", outcome="something_wrong", note="the wall cracked")
    request = installed.visit_requests.get()
    assert (request.reason, request.severity) == ("something_wrong", 4)
    words = phone.get(url).content.decode()
    assert "Please do not tighten now" in words
    assert "Set the torque wrench" not in words
    assert "We look at the wall first" in words
    assert "We will remind you" not in words


def test_torque_above_the_record_is_kept_and_looked_into(
    phone: Client, url: str, installed: Job
) -> None:
    brace = installed.install.braces.order_by("pk")[0]
    send(phone, url, "care", **{"outcome": "done", f"torque-{brace.pk}": "60"})
    assert Reading.objects.get(kind="torque").torque_lbf_ft == 60
    assert installed.visit_requests.get().reason == "over_torque"


def test_sent_twice_counts_once(phone: Client, url: str, installed: Job) -> None:
    key = key_of(phone.get(url))
    answers = [
        send(phone, url, "care", outcome="something_wrong", once=key).status_code for _ in range(3)
    ]
    assert answers == [303, 303, 303]
    assert (CareLog.objects.count(), FormPost.objects.count()) == (1, 1)


def test_refusal_keeps_what_was_typed_and_writes_nothing(
    phone: Client, url: str, installed: Job
) -> None:
    first_reading(installed)
    key = key_of(phone.get(url))
    answer = send(phone, url, "readings", measured_on="2026-04-01", **{"place-0": "12"}, once=key)
    words = answer.content.decode()
    assert answer.status_code == 400
    assert 'value="12"' in words
    assert 'id="place-0-wrong"' in words
    assert 'href="#place-0"' in words
    assert "<title>Please check:" in words
    assert (Reading.objects.count(), FormPost.objects.count()) == (1, 0)
    again = send(
        phone, url, "readings", measured_on="2026-04-01", **{"place-0": '1 1/4"'}, once=key
    )
    assert again.status_code == 303


@pytest.mark.parametrize(("typed", "ticks"), [('1 3/16"', 76), ("30 mm", 76), ("0'-1 1/4\"", 80)])
def test_readings_in_feet_inches_or_millimetres(
    phone: Client, url: str, installed: Job, typed: str, ticks: int
) -> None:
    first_reading(installed)
    send(phone, url, "readings", measured_on="2026-04-01", **{"place-0": typed})
    assert Reading.objects.get(source="homeowner").value_ticks == ticks


@pytest.mark.parametrize(
    ("day", "typed", "words"),
    [
        ("2026-04-01", '13"', "hard to believe"),
        ("2026-01-01", '1 1/4"', "before the braces were installed"),
    ],
)
def test_odd_reading_is_asked_back_then_kept_to_confirm(
    phone: Client, url: str, installed: Job, day: str, typed: str, words: str
) -> None:
    first_reading(installed)
    form = {"measured_on": day, "place-0": typed}
    answer = send(phone, url, "readings", **form)
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert 'name="again"' in answer.content.decode()
    assert Reading.objects.count() == 1
    assert send(phone, url, "readings", again="yes", **form).status_code == 303
    kept = Reading.objects.get(source="homeowner")
    assert kept.doubt != ""
    assert Event.objects.filter(kind="reading.doubted").count() == 1
    assert installed.visit_requests.count() == 0


def test_same_day_and_future_are_refused(phone: Client, url: str, installed: Job) -> None:
    first_reading(installed)
    same = send(phone, url, "readings", measured_on="2026-03-02", **{"place-0": '1"'})
    assert "from that day already" in same.content.decode()
    late = send(phone, url, "readings", measured_on="2999-01-01", **{"place-0": '1"'})
    assert 'id="measured_on-wrong"' in late.content.decode()
    assert Reading.objects.count() == 1


def test_wall_that_moves_in_is_said_in_plain_words(phone: Client, url: str, installed: Job) -> None:
    add(installed, MOVING)
    words = phone.get(url).content.decode()
    assert "Your readings show the wall moving further in." in words
    assert "Please do not tighten now" in words
    assert words.count('class="c-dot"') == 7


def test_channel_is_changed_with_consent(phone: Client, url: str, installed: Job) -> None:
    send(phone, url, "channel", channel="text")
    live = Consent.objects.filter(revoked_at__isnull=True)
    assert [(one.channel, one.source) for one in live] == [("text", "homeowner's page")]
    send(phone, url, "stop")
    assert live.all().count() == 0
    assert "You get no reminders" in phone.get(url).content.decode()


def test_address_that_the_office_entered_stays(phone: Client, url: str, installed: Job) -> None:
    send(phone, url, "channel", channel="text", address="555-0199")
    installed.site.customer.refresh_from_db()
    assert installed.site.customer.phone == "555-0101"


def test_visit_is_asked_for_once(phone: Client, url: str, installed: Job) -> None:
    for _ in range(2):
        send(phone, url, "visit", detail="please look")
    assert installed.visit_requests.get().detail == "please look"


def test_photo_is_judged_by_content(
    phone: Client, url: str, installed: Job, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    fake = BytesIO(b"<script>alert(1)</script>")
    fake.name = "wall.jpg"
    assert send(phone, url, "photo", photo=fake).status_code == 400
    real = BytesIO()
    Image.new("RGB", (50, 40)).save(real, "PNG")
    real.seek(0)
    real.name = "wall.exe"
    assert send(phone, url, "photo", photo=real).status_code == 303
    photo = Photo.objects.get()
    assert (photo.source, Image.open(photo.file).format) == ("homeowner", "JPEG")


def test_unknown_link_says_whom_to_call(phone: Client, db: None) -> None:
    page = phone.get("/h/" + "a" * 43)
    assert page.status_code == 404
    assert "on the label at your braces" in page.content.decode()


@pytest.mark.parametrize("state", ["expired", "revoked"])
def test_dead_link_is_gone_and_names_the_company(
    phone: Client, url: str, installed: Job, state: str
) -> None:
    past = timezone.now() - timedelta(days=1)
    column = "expires_at" if state == "expired" else "revoked_at"
    installed.links.update(**{column: past})
    page = phone.get(url)
    assert page.status_code == 410
    words = page.content.decode()
    assert "Plumb Line Basements" in words
    assert "555-0100" in words
    assert "Alder" not in words
    assert send_refused(phone, url) == 410
    assert CareLog.objects.count() == 0


def send_refused(phone: Client, url: str) -> int:
    return phone.post(url, {"form": "care", "outcome": "done", "once": "x" * 20}).status_code


def test_link_of_another_job_shows_its_own_site_only(
    phone: Client, url: str, installed: Job
) -> None:
    words = phone.get(url).content.decode()
    assert installed.site.label in words
    brace = installed.install.braces.order_by("pk")[0]
    send(phone, url, "care", **{"outcome": "done", f"torque-{brace.pk + 999}": "40"})
    assert Reading.objects.count() == 0


def test_guessing_is_throttled(phone: Client, url: str) -> None:
    answers = [phone.get(f"/h/guess-{n:038d}").status_code for n in range(links.MOST_MISSES + 5)]
    assert answers == [404] * links.MOST_MISSES + [429] * 5
    refused = phone.get(url)
    assert refused.status_code == 429
    assert 0 < int(refused["Retry-After"]) <= 900
    assert phone.get(url, REMOTE_ADDR="192.0.2.7").status_code == 200


def test_form_without_csrf_token_is_refused(url: str) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert send_refused(strict, url) == 403
    page = strict.get(url)
    token = re.search(r'csrfmiddlewaretoken" value="([^"]+)"', page.content.decode())
    assert token is not None
    form = {"form": "care", "outcome": "done", "once": key_of(page)}
    assert strict.post(url, {**form, "csrfmiddlewaretoken": token[1]}).status_code == 303
    assert CareLog.objects.count() == 1


def test_too_much_is_refused_before_it_is_read(phone: Client, url: str) -> None:
    answer = phone.post(url, b"x", content_type="text/plain", CONTENT_LENGTH=str(10**9))
    assert answer.status_code == 413


def test_get_never_changes_anything(phone: Client, url: str, installed: Job) -> None:
    phone.get(url, {"form": "stop", "once": "x" * 20})
    assert Consent.objects.filter(revoked_at__isnull=True).count() == 1
