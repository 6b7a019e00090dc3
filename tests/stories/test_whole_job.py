"""One job from the first survey to a reminder in the homeowner's mailbox, all of it over HTTP."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.utils import timezone

from contractor import queue
from contractor.api.models import Branch
from contractor.crews.services import visits
from jobs.models import Job
from jobs.services import sending
from tests.conftest import ApiTester

pytestmark = pytest.mark.django_db(transaction=True)
API = "/api/v1"


def created(answer: Any) -> dict[str, Any]:
    assert answer.status_code in {200, 201, 202}, answer.json()
    body: dict[str, Any] = answer.json()
    return body


def act(client: ApiTester, path: str, data: dict[str, Any] | None = None) -> dict[str, Any]:
    """POST a command with the ETag that a GET of its record gives."""
    record = path.rsplit("/", 1)[0]
    etag = client.get(f"{API}/{record}")["ETag"]
    return created(client.act(f"{API}/{path}", etag, data))


def receive_stock(client: ApiTester, branch: Branch) -> None:
    parts = created(client.get(f"{API}/parts?limit=200"))["results"]
    lines = []
    for part in parts:
        if part["kind"] != "bar":
            lines.append({"part": part["id"], "quantity": 500, "cents": 10_000})
        elif part["role"] == "beam":
            lines.append({"part": part["id"], "quantity": 4, "length": "20 ft", "cents": 82_000})
        else:
            lines.append({"part": part["id"], "quantity": 20, "length": "8 ft", "cents": 9_000})
    for start in range(0, len(lines), 50):
        body = {"branch": branch.pk, "lines": lines[start : start + 50]}
        created(client.post(f"{API}/receipts", body))


def make_crew(client: ApiTester, branch: Branch) -> int:
    van = created(
        client.post(f"{API}/vehicles", {"branch": branch.pk, "name": "Van 1", "payload": "3000 lb"})
    )
    crew = created(
        client.post(f"{API}/crews", {"branch": branch.pk, "name": "Crew Ash", "vehicle": van["id"]})
    )
    for name in ("T. Okafor", "J. Lindqvist"):
        member = {"branch": branch.pk, "crew": crew["id"], "name": name}
        created(client.post(f"{API}/members", member))
    key: int = crew["id"]
    return key


def open_job(client: ApiTester, site: int, document: dict[str, Any]) -> dict[str, Any]:
    survey = created(
        client.post(
            f"{API}/surveys",
            {
                "site": site,
                "wall": "north wall",
                "measured_on": "2026-02-02",
                "document": document,
            },
        )
    )
    layout = created(client.post(f"{API}/surveys/{survey['id']}/lay-out"))
    assert layout["outcome"] == "within_screening_limits"
    assert layout["bill"]["schema"] == "bill-of-materials/1"
    due = (timezone.localdate() + timedelta(days=21)).isoformat()
    body = {
        "site": site,
        "layouts": [layout["id"]],
        "title": "Brace the north wall",
        "severity": 2,
        "due": due,
    }
    return created(client.post(f"{API}/jobs", body))


def saw_and_load(client: ApiTester, kit: int) -> None:
    created(client.post(f"{API}/cutting-plans", {"kits": [kit]}))
    queue.drain()
    plans = created(client.get(f"{API}/cutting-plans?kits={kit}"))["results"]
    assert plans
    for plan in plans:
        assert plan["status"] == "draft", plan
        act(client, f"cutting-plans/{plan['id']}/start-sawing")
        for bar in plan["bars"]:
            act(client, f"cutting-plans/{plan['id']}/record-sawn", {"bar": bar["id"]})
    act(client, f"kits/{kit}/start-pulling")
    for line in created(client.get(f"{API}/kits/{kit}"))["lines"]:
        act(client, f"kits/{kit}/pull", {"line": line["id"], "quantity": line["quantity"]})
    act(client, f"kits/{kit}/stage")
    act(client, f"kits/{kit}/load")


def plan_and_publish(client: ApiTester, branch: Branch, job: int) -> dict[str, Any]:
    today = timezone.localdate()
    plan = created(
        client.post(
            f"{API}/crew-plans",
            {
                "branch": branch.pk,
                "first_day": today.isoformat(),
                "last_day": (today + timedelta(days=27)).isoformat(),
                "seconds": 2,
                "jobs": [job],
            },
        )
    )
    assert plan["status"] == "requested"
    queue.drain()
    proposal = created(client.get(f"{API}/crew-plans/{plan['id']}"))
    assert proposal["status"] == "proposed", proposal["failure"]
    assert proposal["bound"] <= proposal["cost"]
    act(client, f"crew-plans/{plan['id']}/publish")
    [visit] = created(client.get(f"{API}/visits?job={job}"))["results"]
    assert visit["status"] == "tentative"
    return act(client, f"visits/{visit['id']}/confirm")


def install(client: ApiTester, site: int, job: int, on: str) -> dict[str, Any]:
    record = act(client, f"jobs/{job}/start-install", {"on": on})
    for brace in record["braces"]:
        path = f"{API}/brace-records/{brace['id']}"
        done = {
            "measured_height": brace["planned_height"]["text"],
            "torque": brace["torque_limit"],
            "tool": "click wrench",
            "anchors_set": brace["anchors_wanted"],
            "out_of_plumb": "1/16 in",
            "label_date": on,
            **({"is_sealed": True} if brace["needs_seal"] else {}),
        }
        done["torque"] = {name: done["torque"][name] for name in ("value", "unit")}
        answer = client.change(path, client.get(path)["ETag"], done)
        assert created(answer)["missing"] == []
    path, signed = (
        f"install-records/{record['id']}/close",
        {
            "installed_on": on,
            "checklist": {"clean_up": True, "hand_over": True},
            "left_with_homeowner": ["torque wrench"],
            "signed_off_by": "T. Okafor",
        },
    )
    measure_marks(client, site, client.act(f"{API}/{path}", "*", signed), on)
    return act(client, path, signed)


def measure_marks(client: ApiTester, site: int, refusal: Any, on: str) -> None:
    """Read the wall where the refusal says that nobody has."""
    assert (refusal.status_code, refusal.json()["code"]) == (409, "zero_reading_missing")
    for mark in refusal.json()["marks"]:
        wall = mark.pop("wall")
        row = {**mark, "kind": "bow", "measured_on": on, "value": "1/2 in"}
        created(client.post(f"{API}/readings", {"site": site, "wall": wall, "readings": [row]}))


def test_survey_to_reminder(
    owner: ApiTester, stocked: Branch, site_key: int, survey: Callable[..., dict[str, Any]]
) -> None:
    customer = created(owner.get(f"{API}/customers"))["results"][0]["id"]
    consent = {"channel": "email", "source": "paper form"}
    created(owner.post(f"{API}/customers/{customer}/grant-consent", consent))
    receive_stock(owner, stocked)
    make_crew(owner, stocked)

    job = open_job(owner, site_key, survey("perpendicular-16"))
    job = act(owner, f"jobs/{job['id']}/reserve")
    assert job["status"] == "reserved"
    saw_and_load(owner, job["kit"])
    visit = plan_and_publish(owner, stocked, job["id"])
    closed = install(owner, site_key, job["id"], visit["date"])

    assert closed["status"] == "closed"
    assert Job.objects.get(pk=job["id"]).status == Job.Status.INSTALLED
    assert created(owner.get(f"{API}/kits/{job['kit']}"))["status"] == "used"
    assert visits.finish_visits() == 1
    reminders = created(owner.get(f"{API}/reminders?job={job['id']}&ordering=due_on"))["results"]
    first = date.fromisoformat(reminders[0]["due_on"])
    assert sending.send_due(datetime(first.year, first.month, first.day, 20, tzinfo=UTC)) == 1
    assert mail.outbox[0].to == ["alder@example.org"]
    kinds = [event["kind"] for event in created(owner.get(f"{API}/events?limit=200"))["results"]]
    for kind in ("survey.added", "job.reserved", "visit.confirmed", "job.installed"):
        assert kind in kinds
    check = created(owner.get(f"{API}/stock-check?branch={stocked.pk}"))
    assert check["results"] == []


def test_reserving_more_than_there_is_names_what_is_short(
    owner: ApiTester, stocked: Branch, site_key: int, survey: Callable[..., dict[str, Any]]
) -> None:
    job = open_job(owner, site_key, survey("perpendicular-16"))
    path = f"{API}/jobs/{job['id']}"
    answer = owner.act(f"{path}/reserve", owner.get(path)["ETag"])
    assert answer.status_code == 409
    problem = answer.json()
    assert problem["code"] == "insufficient_stock"
    assert problem["remedy"]
    assert {row["part"] for row in problem["shortages"]} >= {"BM-S5X10-A36", "WA-58"}
    assert owner.get(path).json()["status"] == "released"
    assert owner.get(f"{API}/kits").json()["results"] == []


def test_reserving_twice_is_refused(
    owner: ApiTester, stocked: Branch, site_key: int, survey: Callable[..., dict[str, Any]]
) -> None:
    receive_stock(owner, stocked)
    job = open_job(owner, site_key, survey("perpendicular-16"))
    act(owner, f"jobs/{job['id']}/reserve")
    path = f"{API}/jobs/{job['id']}"
    again = owner.act(f"{path}/reserve", owner.get(path)["ETag"])
    assert (again.status_code, again.json()["code"]) == (409, "wrong_state")


def test_planning_a_job_that_nobody_is_certified_for_is_refused(
    owner: ApiTester, stocked: Branch, site_key: int, survey: Callable[..., dict[str, Any]]
) -> None:
    receive_stock(owner, stocked)
    make_crew(owner, stocked)
    job = open_job(owner, site_key, survey("perpendicular-16"))
    path = f"{API}/jobs/{job['id']}"
    owner.change(path, owner.get(path)["ETag"], {"skills": ["confined_space"]})
    act(owner, f"jobs/{job['id']}/reserve")
    today = timezone.localdate()
    answer = owner.post(
        f"{API}/crew-plans",
        {
            "branch": stocked.pk,
            "first_day": today.isoformat(),
            "last_day": (today + timedelta(days=13)).isoformat(),
            "jobs": [job["id"]],
        },
    )
    assert (answer.status_code, answer.json()["code"]) == (409, "nobody_certified")
    assert owner.get(f"{API}/crew-plans").json()["results"] == []
