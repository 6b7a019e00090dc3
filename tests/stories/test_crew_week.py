"""A crew week over HTTP: plan, publish, confirm, a crew falls sick for three days, plan again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from contractor import queue
from contractor.api.models import Branch
from contractor.engine.rostering.check import check_plan
from tests.conftest import ApiTester
from tests.stories.test_whole_job import receive_stock

pytestmark = pytest.mark.django_db(transaction=True)
API = "/api/v1"
JOBS = 6


def created(answer: Any) -> dict[str, Any]:
    assert answer.status_code in {200, 201}, answer.json()
    body: dict[str, Any] = answer.json()
    return body


def act(client: ApiTester, path: str, data: dict[str, Any] | None = None) -> dict[str, Any]:
    """POST a command with the ETag that a GET of its record gives."""
    etag = client.get(f"{API}/{path.rsplit('/', 1)[0]}")["ETag"]
    return created(client.act(f"{API}/{path}", etag, data))


@pytest.fixture
def crews(office: ApiTester, stocked: Branch) -> list[int]:
    keys = []
    for name in ("Crew Ash", "Crew Birch"):
        van = {"branch": stocked.pk, "name": f"van of {name}", "payload": "3000 lb"}
        vehicle = created(office.post(f"{API}/vehicles", van))["id"]
        crew = {"branch": stocked.pk, "name": name, "vehicle": vehicle}
        key = created(office.post(f"{API}/crews", crew))["id"]
        for number in (1, 2):
            member = {"branch": stocked.pk, "crew": key, "name": f"{name} {number}"}
            created(office.post(f"{API}/members", member))
        keys.append(key)
    return keys


@pytest.fixture
def jobs(office: ApiTester, stocked: Branch, survey: Callable[..., dict[str, Any]]) -> list[int]:
    """Six jobs, surveyed, laid out, opened, and their material reserved."""
    keys = []
    for _ in range(5):
        receive_stock(office, stocked)
    customer = created(office.post(f"{API}/customers", {"branch": stocked.pk, "name": "M. Alder"}))
    for number in range(JOBS):
        site = {
            "branch": stocked.pk,
            "customer": customer["id"],
            "label": f"{number} Alder Lane",
            "latitude": 42.0 + 0.03 * (number + 1),
            "longitude": -74.0 + 0.05 * (number % 2),
            "time_zone": "America/New_York",
        }
        keys.append(_open_job(office, created(office.post(f"{API}/sites", site))["id"], survey()))
    for key in keys:
        assert act(office, f"jobs/{key}/reserve")["status"] == "reserved"
    return keys


def _open_job(office: ApiTester, site: int, document: dict[str, Any]) -> int:
    body = {"site": site, "wall": "north", "measured_on": "2026-02-02", "document": document}
    measured = created(office.post(f"{API}/surveys", body))
    layout = created(office.post(f"{API}/surveys/{measured['id']}/lay-out"))
    due = (timezone.localdate() + timedelta(days=14)).isoformat()
    job = {"site": site, "layouts": [layout["id"]], "title": "Brace it", "severity": 2, "due": due}
    key: int = created(office.post(f"{API}/jobs", job))["id"]
    return key


@pytest.fixture
def ask(office: ApiTester, stocked: Branch) -> Callable[..., dict[str, Any]]:
    """Return a function that asks for four weeks, has them computed, and checks the answer."""
    today = timezone.localdate()
    monday = today + timedelta(days=7 - today.weekday())

    def make(**more: Any) -> dict[str, Any]:
        days = {"first_day": str(monday), "last_day": str(monday + timedelta(days=25))}
        body = {"branch": stocked.pk, **days, "seconds": 5, **more}
        key = created(office.post(f"{API}/crew-plans", body))["id"]
        queue.drain()
        plan = created(office.get(f"{API}/crew-plans/{key}"))
        assert (plan["status"], plan["failure"]) == ("proposed", "")
        assert check_plan(plan["instance"], plan["plan"]) == []
        return plan

    return make


def open_visits(office: ApiTester) -> dict[int, dict[str, Any]]:
    rows = created(office.get(f"{API}/visits?limit=100"))["results"]
    return {row["job"]: row for row in rows if row["status"] in ("tentative", "confirmed")}


@pytest.mark.parametrize("mode", ["penalty", "fewest-moves"])
def test_no_confirmed_visit_is_lost_when_a_crew_is_sick(
    office: ApiTester,
    crews: list[int],
    jobs: list[int],
    ask: Callable[..., dict[str, Any]],
    mode: str,
) -> None:
    act(office, f"crew-plans/{ask()['id']}/publish")
    before = open_visits(office)
    assert sorted(before) == sorted(jobs)
    for visit in before.values():
        act(office, f"visits/{visit['id']}/confirm")
    assert ask(mode=mode)["report"]["moves"] == 0, "no event, no move"

    earliest = min(before.values(), key=lambda visit: (visit["date"], visit["half"]))
    first = date.fromisoformat(earliest["date"])
    last = first + timedelta(days=2)
    sick = {"crew": earliest["crew"], "first": str(first), "last": str(last), "reason": "flu"}
    created(office.post(f"{API}/absences", sick))
    hit = {
        visit["job"]
        for visit in before.values()
        if visit["crew"] == earliest["crew"] and visit["date"] <= str(last)
    }
    assert hit, "the sick crew had work on these days"

    plan = ask(mode=mode, cause="flu")
    report = plan["report"]
    assert [event["kind"] for event in report["events"]] == ["crew_absent"]
    assert {change["what"] for change in report["confirmed"]} <= {"moved", "crew", "both"}
    moved = {change["job"] for change in report["confirmed"]}
    assert hit <= moved
    assert moved | set(report["untouched"]) == set(jobs)
    if mode == "fewest-moves":
        assert (report["moves"], report["is_fewest_proven"]) == (report["fewest_moves"], True)

    act(office, f"crew-plans/{plan['id']}/publish")
    after = open_visits(office)
    assert sorted(after) == sorted(jobs), "no confirmed visit lost"
    for job, visit in after.items():
        told = {"tentative"} if job in moved else {"confirmed"}
        assert {visit["status"]} == told
        assert visit["uid"] == before[job]["uid"]
        assert visit["sequence"] == (1 if job in moved else 0)
    kinds = created(office.get(f"{API}/events?kind=visit.moved"))["results"]
    assert {one["data"]["job"] for one in kinds} == moved
    assert ask(mode=mode)["report"]["moves"] == 0, "once published, nothing is left to move"
