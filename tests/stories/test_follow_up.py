"""A wall after its install: three reminders, readings that turn bad, a service visit, done.

The clock is the test's; sweeps, pages and the API see the same time. The crew and the homeowner
use their pages, the office the API.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

import pytest
from django.core import mail
from django.test import Client
from django.utils import timezone

from contractor import queue
from contractor.api.models import Branch, User
from jobs import tasks
from jobs.models import Job, Site
from tests.conftest import ApiTester
from tests.stories.test_whole_job import API, act, created, make_crew, open_job

pytestmark = pytest.mark.django_db(transaction=True)
INSTALL = datetime(2026, 3, 2, 15, tzinfo=UTC)
POLICY = {
    "schema": "follow-up-policy/1",
    "month_offsets": [1, 3, 6],
    "seasons": [],
    "end_months": 12,
    "moving_interval_days": 30,
}
# The survey's worst place of the middle mark, and what the homeowner reads there in turn.
MARK = "12'-0&quot; from the left corner"
READ = ['3/4"', '3/4"', '1"']


@dataclass
class Clock:
    now: datetime

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    ticking = Clock(INSTALL)
    monkeypatch.setattr(timezone, "now", ticking)
    return ticking


@pytest.fixture
def at_work(
    clock: Clock, users: dict[str, User], client_for: Callable[..., ApiTester]
) -> Callable[[], ApiTester]:
    """Return a function: the owner's client with a token of this hour."""
    return lambda: client_for(users["owner"])


@pytest.fixture
def planned(
    at_work: Callable[[], ApiTester], stocked: Branch, survey: Callable[..., dict[str, Any]]
) -> Job:
    """A job with its crew and the company's policy; material and plan are another story."""
    owner = at_work()
    path = f"{API}/companies/{stocked.company_id}"
    settings = {"phone": "555-0100", "follow_up_policy": POLICY}
    created(owner.change(path, owner.get(path)["ETag"], {"settings": settings}))
    make_crew(owner, stocked)
    customer = {"branch": stocked.pk, "name": "M. Alder", "email": "alder@example.org"}
    person = created(owner.post(f"{API}/customers", customer))["id"]
    consent = {"channel": "email", "source": "paper form"}
    created(owner.post(f"{API}/customers/{person}/grant-consent", consent))
    place = {"latitude": 42.1, "longitude": -74.1, "time_zone": "America/New_York"}
    house = {"branch": stocked.pk, "customer": person, "label": "12 Alder Lane", **place}
    site = created(owner.post(f"{API}/sites", house))["id"]
    job = open_job(owner, site, survey("perpendicular-16"))
    Job.objects.filter(pk=job["id"]).update(status=Job.Status.PLANNED)
    return Job.objects.get(pk=job["id"])


def form_of(page: Any, **typed: str) -> dict[str, str]:
    """Return a form as a browser without script sends it: its hidden fields and what is typed."""
    text = page.content.decode()
    hidden = dict(re.findall(r'type="hidden" name="(key|once)" value="([^"]+)"', text))
    return {**hidden, **typed}


def install(crew: Client, job: Job) -> None:
    """The crew opens the record, fills it brace by brace, reads the wall, signs off."""
    page = crew.get("/crew")
    assert crew.post(f"/crew/jobs/{job.pk}/start", form_of(page)).status_code == 303
    for brace in Job.objects.get(pk=job.pk).install.braces.order_by("pk"):
        path = f"/crew/braces/{brace.pk}"
        typed = {
            "height": f"{brace.planned_height_ticks / 64} in",
            "torque": f"{brace.torque_limit_lbf_ft:g}",
            "tool": "click wrench",
            "anchors": str(brace.anchors_wanted),
            "plumb": '1/16"',
            "label": "2026-03-02",
            "sealed": "yes",
        }
        assert crew.post(path, form_of(crew.get(path), **typed)).status_code == 303
    path = f"/crew/jobs/{job.pk}/readings"
    page = crew.get(path)
    names = re.findall(r'name="(spot-\d)"', page.content.decode())
    zero = dict(zip(names, ('3/8"', '3/4"', '1/2"'), strict=True))
    assert crew.post(path, form_of(page, **zero)).status_code == 303
    done = {"step-clean_up": "yes", "step-hand_over": "yes", "left-wrench": "yes"}
    page = crew.get(f"/crew/jobs/{job.pk}")
    signed = form_of(page, **done, signed="T. Okafor")
    assert crew.post(f"/crew/jobs/{job.pk}/close", signed).status_code == 303


def ten_in_the_morning(site: Site, day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 10, tzinfo=ZoneInfo(site.time_zone))


def remind(clock: Clock, job: Job, number: int) -> str:
    """Let the due date come; return the path of the page that the message links to."""
    due = job.reminders.filter(status="due").order_by("due_on")[0]
    clock.now = ten_in_the_morning(job.site, due.due_on) - timedelta(minutes=1)
    tasks.send_due_reminders()
    assert len(mail.outbox) == number - 1
    clock.now += timedelta(minutes=1)
    for _ in range(3):  # the clock of the machine may fire more than once
        tasks.send_due_reminders()
    assert len(mail.outbox) == number
    found = re.search(r"https?://\S+/h/\S+", str(mail.outbox[-1].body))
    assert found is not None
    return urlsplit(found[0]).path


def answer(path: str, job: Job, inches: str) -> Any:
    """The homeowner logs the re-tightening, then what the tape shows at the middle mark."""
    home = Client()
    page = home.get(path)
    assert page.status_code == 200
    done = home.post(path, form_of(page, form="care", outcome="done"))
    assert done.status_code == 303
    page = home.get(path)
    label = re.search(rf'<label for="(place-\d+)">[^<]*{re.escape(MARK)}', _straight(page))
    assert label is not None
    today = timezone.localdate(timezone=ZoneInfo(job.site.time_zone)).isoformat()
    typed = {"form": "readings", "measured_on": today, label[1]: inches}
    saved = home.post(path, form_of(page, **typed))
    assert saved.status_code == 303, saved.content.decode()
    return home.get(path)


def _straight(page: Any) -> str:
    return str(page.content.decode()).replace("&#x27;", "'")


def plan_visit(owner: ApiTester, branch: Branch, first: date) -> dict[str, Any]:
    period = {"first_day": first.isoformat(), "last_day": (first + timedelta(days=6)).isoformat()}
    plan = created(
        owner.post(f"{API}/service-plans", {"branch": branch.pk, **period, "seconds": 0.5})
    )
    queue.drain()
    proposal = created(owner.get(f"{API}/service-plans/{plan['id']}"))
    assert proposal["status"] == "proposed", proposal["failure"]
    act(owner, f"service-plans/{plan['id']}/publish")
    [visit] = created(owner.get(f"{API}/service-visits?plan={plan['id']}"))["results"]
    return act(owner, f"service-visits/{visit['id']}/confirm")


def test_install_reminders_bad_readings_visit_done(
    clock: Clock,
    at_work: Callable[[], ApiTester],
    planned: Job,
    users: dict[str, User],
    stocked: Branch,
) -> None:
    crew = Client()
    crew.force_login(users["crew"], backend="django.contrib.auth.backends.ModelBackend")
    install(crew, planned)
    job = Job.objects.get(pk=planned.pk)
    assert job.status == Job.Status.INSTALLED
    days = [one.due_on for one in job.reminders.order_by("due_on")]
    assert days == [date(2026, 4, 2), date(2026, 6, 2), date(2026, 9, 2), date(2027, 3, 2)]

    for number, inches in enumerate(READ, start=1):
        page = answer(remind(clock, job, number), job, inches)
        is_bad = number == len(READ)
        words = page.content.decode()
        assert ("the wall moving further in" in words) is is_bad
        assert ("Please do not tighten now" in words) is is_bad
    assert list(job.reminders.filter(status="done").values_list("due_on", flat=True)) == days[:3]

    owner = at_work()
    board = created(owner.get(f"{API}/follow-up"))
    assert [row["wall"] for row in board["moving_in"]] == ["north wall"]
    assert board["waiting"]["urgent_visit_requests"] == 1
    [wanted] = created(owner.get(f"{API}/visit-requests?job={job.pk}"))["results"]
    assert (wanted["reason"], wanted["severity"], wanted["status"]) == ("moving_in", 4, "open")
    tasks.send_due_reminders()
    assert len(mail.outbox) == 3, "nobody is asked to tighten a wall that moves in"
    assert job.reminders.get(kind="extra_reading").due_on == date(2026, 10, 2)

    visit = plan_visit(owner, stocked, clock.now.date() + timedelta(days=1))
    assert date.fromisoformat(visit["date"]) <= date.fromisoformat(wanted["wanted_by"])
    path = f"{API}/visit-requests/{wanted['id']}"
    assert created(owner.get(path))["status"] == "planned"

    clock.now = ten_in_the_morning(job.site, date.fromisoformat(visit["date"]))
    owner = at_work()
    act(owner, f"service-visits/{visit['id']}/finish")
    assert created(owner.get(path))["status"] == "done"
    assert created(owner.get(f"{API}/follow-up"))["waiting"]["visit_requests"] == 0
    kinds = [event["kind"] for event in created(owner.get(f"{API}/events?limit=200"))["results"]]
    for kind in ("install.closed", "reminder.sent", "care.logged", "visit.requested"):
        assert kind in kinds
