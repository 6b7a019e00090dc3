"""Crew plans, pins, feeds and service plans over HTTP: roles, other branches, tags, repeats."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import icalendar
import pytest
from django.utils import timezone

from contractor import queue
from contractor.api.models import Branch, User
from contractor.crews.models import Absence, CalendarFeed, Crew, CrewPlan, Member, Pin, Visit
from contractor.engine.rostering.check import check_plan
from jobs.models import Job, VisitRequest
from tests.conftest import ApiTester
from tests.engine.rostering.small import random_instance

pytestmark = pytest.mark.django_db(transaction=True)
ROOT = "/api/v1"
MakeCrew = Callable[..., Crew]
MakeJob = Callable[..., Job]


@pytest.fixture
def monday() -> Any:
    """Return the Monday of next week: requests over HTTP read the clock."""
    today = timezone.localdate()
    return today + timedelta(days=7 - today.weekday())


@pytest.fixture
def ask(office: ApiTester, yard: Branch, monday: Any) -> Callable[..., Any]:
    """Return a function that asks for a plan of two weeks, has it computed, and reads it."""

    def make(path: str = "crew-plans", **more: Any) -> Any:
        days = {"first_day": str(monday), "last_day": str(monday + timedelta(days=11))}
        body = {"branch": yard.pk, **days, "seconds": 1, **more}
        made = office.post(f"{ROOT}/{path}", body)
        assert made.status_code == 201, made.json()
        queue.drain()
        return office.get(f"{ROOT}/{path}/{made.json()['id']}")

    return make


def publish(office: ApiTester, plan: Any, path: str = "crew-plans") -> Any:
    return office.act(f"{ROOT}/{path}/{plan.json()['id']}/publish", plan["ETag"])


def test_from_request_to_confirmed_visit(
    office: ApiTester,
    clients: dict[str, ApiTester],
    make_crew: MakeCrew,
    make_job: MakeJob,
    ask: Callable[..., Any],
) -> None:
    make_crew("A")
    make_job(due=timezone.localdate())
    plan = ask(cause="first week")
    body = plan.json()
    assert (body["status"], body["mode"], body["cause"]) == ("proposed", "penalty", "first week")
    assert body["progress"]["stage"] == "done"
    listed = office.get(f"{ROOT}/crew-plans").json()["results"]
    assert [one["id"] for one in listed] == [body["id"]]
    assert "instance" not in listed[0]
    done = publish(office, plan)
    assert (done.status_code, done.json()["status"]) == (200, "published")
    [visit] = office.get(f"{ROOT}/visits").json()["results"]
    crew = clients["crew"]
    tag = crew.get(f"{ROOT}/visits/{visit['id']}")["ETag"]
    confirmed = crew.act(f"{ROOT}/visits/{visit['id']}/confirm", tag)
    assert (confirmed.status_code, confirmed.json()["status"]) == (200, "confirmed")


def test_a_change_needs_the_current_tag(
    office: ApiTester, make_crew: MakeCrew, make_job: MakeJob, ask: Callable[..., Any]
) -> None:
    make_crew("A")
    make_job()
    plan = ask()
    at = f"{ROOT}/crew-plans/{plan.json()['id']}/publish"
    assert office.post(at, {}).status_code == 428
    assert office.act(at, '"crewplan-1-v1"').status_code == 412
    assert CrewPlan.objects.get().status == "proposed"
    assert Visit.objects.count() == 0


def test_publishing_once_more_with_the_same_key_answers_the_same(
    office: ApiTester, make_crew: MakeCrew, make_job: MakeJob, ask: Callable[..., Any]
) -> None:
    make_crew("A")
    make_job()
    plan = ask()
    at = f"{ROOT}/crew-plans/{plan.json()['id']}/publish"
    key = {"HTTP_IDEMPOTENCY_KEY": '"once-and-only-once"'}
    first = office.act(at, plan["ETag"], **key)
    second = office.act(at, plan["ETag"], **key)
    assert (first.status_code, second.status_code) == (200, 200)
    assert first.json() == second.json()
    assert Visit.objects.count() == 1
    again = office.act(at, second["ETag"])
    assert (again.status_code, again.json()["code"]) == (409, "wrong_state")


@pytest.mark.parametrize("role", ["warehouse", "crew", "read_only"])
def test_only_the_office_plans(
    clients: dict[str, ApiTester], yard: Branch, monday: Any, role: str
) -> None:
    days = {"first_day": str(monday), "last_day": str(monday)}
    for path in ("crew-plans", "service-plans"):
        answer = clients[role].post(f"{ROOT}/{path}", {"branch": yard.pk, **days})
        assert answer.status_code == 403
    assert CrewPlan.objects.count() == 0


def test_other_branches_do_not_exist(
    office: ApiTester,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
    other_branch: Branch,
    make_crew: MakeCrew,
    make_job: MakeJob,
    ask: Callable[..., Any],
) -> None:
    crew, job = make_crew("A"), make_job()
    plan = ask().json()["id"]
    stranger = client_for(make_user("office", other_branch))
    assert stranger.get(f"{ROOT}/crew-plans/{plan}").status_code == 404
    assert stranger.get(f"{ROOT}/crew-plans/{plan}/why?job={job.pk}").status_code == 404
    assert stranger.act(f"{ROOT}/crew-plans/{plan}/publish", "*").status_code == 404
    pin = {"job": job.pk, "crew": crew.pk, "reason": "mine"}
    assert stranger.post(f"{ROOT}/pins", pin).status_code == 400
    assert stranger.post(f"{ROOT}/calendar-feeds", {"crew": crew.pk}).status_code == 400
    assert Pin.objects.count() == CalendarFeed.objects.count() == 0


def test_a_job_that_nobody_can_do_is_refused_at_once(
    office: ApiTester, yard: Branch, make_crew: MakeCrew, make_job: MakeJob, monday: Any
) -> None:
    make_crew("A")
    job = make_job(skills=["confined"])
    days = {"first_day": str(monday), "last_day": str(monday)}
    answer = office.post(f"{ROOT}/crew-plans", {"branch": yard.pk, **days, "jobs": [job.pk]})
    assert (answer.status_code, answer.json()["code"]) == (409, "nobody_certified")
    assert CrewPlan.objects.count() == 0


def test_why_here_and_why_not_there(
    office: ApiTester, make_crew: MakeCrew, make_job: MakeJob, ask: Callable[..., Any]
) -> None:
    crew = make_crew("A")
    first, second = make_job(0.1), make_job(0.2)
    body = ask().json()
    at = f"{ROOT}/crew-plans/{body['id']}"
    why = office.get(f"{at}/why?job={first.pk}").json()
    assert why["visit"] == body["plan"]["plan"][str(first.pk)]
    assert len(why["alternatives"]) == 3
    assert why["cost"]["total"] == sum(v for k, v in why["cost"].items() if k != "total")
    assert why["earliest_start"][0]["until"] <= why["visit"]["date"]
    slot = body["plan"]["plan"][str(second.pk)]
    asked = f"job={first.pk}&crew={crew.pk}&date={slot['date']}&half={slot['half']}"
    swap = office.get(f"{at}/why-not?{asked}").json()
    assert (swap["is_legal"], swap["obstacles"]) == (True, [])
    assert [one["job"] for one in swap["displaced"]] == [str(second.pk)]
    assert swap["extra"] >= 0, "the plan is proven best"
    asked = f"job={first.pk}&crew={crew.pk}&date=2001-01-01&half=am"
    never = office.get(f"{at}/why-not?{asked}").json()
    assert [one["code"] for one in never["obstacles"]] == ["outside_horizon"]


def test_why_unplanned_and_what_would_help(
    office: ApiTester,
    make_crew: MakeCrew,
    make_job: MakeJob,
    ask: Callable[..., Any],
    monday: Any,
) -> None:
    make_crew("A")
    job = make_job(permit_release=monday + timedelta(days=14))
    at = f"{ROOT}/crew-plans/{ask().json()['id']}"
    why = office.get(f"{at}/why?job={job.pk}").json()
    assert why["visit"] is None
    assert why["unplanned"]["legal_starts"] == 0
    assert set(why["unplanned"]["starts_by_rule"]) >= {"before_permit"}
    helps = {one["what"].split(" ")[0]: one for one in why["would_help"]}
    assert helps["permit"]["size"] == 3, "from the Monday after to the Friday of the plan"
    assert helps["permit"]["visit"]["date"] == str(monday + timedelta(days=11))


def test_value_prices_and_pins(
    office: ApiTester, make_crew: MakeCrew, make_job: MakeJob, ask: Callable[..., Any], monday: Any
) -> None:
    make_crew("A")
    job = make_job(due=monday)
    late = monday + timedelta(days=3)
    pinned = office.post(
        f"{ROOT}/pins", {"job": job.pk, "date": str(late), "half": "am", "reason": "owner's wish"}
    )
    assert pinned.status_code == 201, pinned.json()
    assert pinned.json()["owner"].startswith("office-")
    twice = office.post(f"{ROOT}/pins", {"job": job.pk, "date": str(late), "reason": "x"})
    assert (twice.status_code, twice.json()["code"]) == (409, "already_pinned")
    body = ask().json()
    assert body["plan"]["plan"][str(job.pk)]["date"] == str(late)
    at = f"{ROOT}/crew-plans/{body['id']}"
    told = office.get(f"{at}/value").json()
    assert (told["cost"], told["bound"], told["seed"]) == (body["cost"], body["bound"], 1)
    [pin] = told["pins"]
    assert (pin["job"], pin["is_kept"]) == (job.pk, True)
    assert pin["cost_at_least"] > 0
    prices = office.get(f"{at}/crew-day-prices").json()
    assert {one["week"] for one in prices["weeks"]} == {
        "{}-W{:02}".format(*day.isocalendar()[:2]) for day in (monday, monday + timedelta(days=7))
    }
    gone = office.delete(f"{ROOT}/pins/{pinned.json()['id']}", HTTP_IF_MATCH=pinned["ETag"])
    assert gone.status_code == 204
    assert ask().json()["plan"]["plan"][str(job.pk)]["date"] == str(monday)


@pytest.mark.parametrize(
    "query", ["", "job=x", "job=1&crew=2&half=am", "job=1&crew=2&date=2026-05-04&half=noon"]
)
def test_questions_without_their_members(
    office: ApiTester, make_crew: MakeCrew, make_job: MakeJob, ask: Callable[..., Any], query: str
) -> None:
    make_crew("A")
    make_job()
    at = f"{ROOT}/crew-plans/{ask().json()['id']}"
    answer = office.get(f"{at}/why-not?{query}")
    assert (answer.status_code, answer.json()["code"]) == (400, "invalid_value")
    assert office.get(f"{at}/why?job=99999").status_code == 404
    assert office.get(f"{ROOT}/crew-plans?job=1").json()["code"] == "unknown_parameter"


def test_a_requested_plan_can_be_discarded_and_has_no_reasons(
    office: ApiTester, yard: Branch, monday: Any
) -> None:
    days = {"first_day": str(monday), "last_day": str(monday)}
    made = office.post(f"{ROOT}/crew-plans", {"branch": yard.pk, **days})
    at = f"{ROOT}/crew-plans/{made.json()['id']}"
    assert office.get(f"{at}/value").json()["code"] == "wrong_state"
    gone = office.act(f"{at}/discard", made["ETag"])
    assert gone.json()["status"] == "discarded"
    queue.drain()
    assert CrewPlan.objects.get().status == "discarded"


def test_feeds_of_crew_member_and_job(
    office: ApiTester,
    anonymous: ApiTester,
    make_crew: MakeCrew,
    make_job: MakeJob,
    ask: Callable[..., Any],
) -> None:
    crew, job = make_crew("A", people=1), make_job(min_crew_size=1)
    publish(office, ask())
    member = Member.objects.get()
    uids = set()
    for whose in ({"crew": crew.pk}, {"member": member.pk}, {"job": job.pk}):
        made = office.post(f"{ROOT}/calendar-feeds", whose)
        assert made.status_code == 201, made.json()
        address = made.json()["url"].split("/", 3)[3]
        feed = anonymous.get(f"/{address}")
        assert feed.status_code == 200
        [event] = icalendar.Calendar.from_ical(feed.content).walk("VEVENT")
        uids.add(str(event["UID"]))
        assert anonymous.get(f"/{address}", HTTP_IF_NONE_MATCH=feed["ETag"]).status_code == 304
        key = made.json()["id"]
        assert "url" not in office.get(f"{ROOT}/calendar-feeds/{key}").json()
        office.post(f"{ROOT}/calendar-feeds/{key}/revoke", {})
        assert anonymous.get(f"/{address}").status_code == 404
    assert len(uids) == 1
    both = office.post(f"{ROOT}/calendar-feeds", {"crew": crew.pk, "job": job.pk})
    assert both.status_code == 400


def test_an_outside_calendar_becomes_absences(
    office: ApiTester, make_crew: MakeCrew, monday: Any
) -> None:
    make_crew("A", people=1)
    member = Member.objects.get()
    text = (
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//example.org//x//EN\r\n"
        f"BEGIN:VEVENT\r\nUID:a@example.org\r\nDTSTAMP:20260101T000000Z\r\n"
        f"DTSTART;VALUE=DATE:{monday:%Y%m%d}\r\nDTEND;VALUE=DATE:{monday + timedelta(2):%Y%m%d}\r\n"
        "END:VEVENT\r\nEND:VCALENDAR\r\n"
    )
    at = f"{ROOT}/members/{member.pk}/import-busy"
    read = office.post(at, {"calendar": "own", "text": text})
    assert read.status_code == 200, read.json()
    row = Absence.objects.get(pk=read.json()["absences"][0])
    assert (row.first, row.last, row.half) == (monday, monday + timedelta(days=1), "")
    assert (row.source, row.member) == ("own", member)
    broken = office.post(at, {"calendar": "own", "text": "no calendar"})
    assert broken.status_code == 400
    assert Absence.objects.count() == 1


def test_service_visits_over_http(
    office: ApiTester, make_crew: MakeCrew, make_job: MakeJob, ask: Callable[..., Any], monday: Any
) -> None:
    make_crew("A", people=1)
    job = make_job(0.05, status=Job.Status.INSTALLED)
    asked = office.post(f"{ROOT}/jobs/{job.pk}/ask-visit", {"reason": "something_wrong"})
    assert asked.status_code == 201
    window = {"request": asked.json()["id"], "day": str(monday + timedelta(days=1))}
    offered = office.post(
        f"{ROOT}/service-windows", {**window, "opens": "13:00", "closes": "14:00"}
    )
    assert offered.status_code == 201, offered.json()
    plan = ask("service-plans", seconds=0.5)
    assert plan.json()["status"] == "proposed", plan.json()
    assert publish(office, plan, "service-plans").json()["report"]["published"]["new"] == 1
    [visit] = office.get(f"{ROOT}/service-visits").json()["results"]
    assert (visit["date"], visit["status"]) == (window["day"], "tentative")
    at = f"{ROOT}/service-visits/{visit['id']}"
    confirmed = office.act(f"{at}/confirm", office.get(at)["ETag"])
    assert confirmed.json()["status"] == "confirmed"
    assert office.act(f"{at}/finish", confirmed["ETag"]).json()["status"] == "done"
    assert VisitRequest.objects.get().status == "done"


def test_the_crew_plan_calculator_proves_a_small_plan(office: ApiTester) -> None:
    given = random_instance(4, crews=2, jobs=6)
    answer = office.post(f"{ROOT}/calculations/crew-plan", given)
    assert answer.status_code == 200, answer.json()
    plan = answer.json()
    assert check_plan(given, plan) == []
    assert plan["proven"] is True


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"last_day": "2026-02-30"}, "/last_day", "not_a_date"),
        ({"speed_kmh": 0}, "/speed_kmh", "number_out_of_range"),
        ({"jobs": {}}, "/jobs", "not_a_list"),
        ({"schema": "install-sched/2"}, "/schema", "unknown_word"),
    ],
)
def test_the_crew_plan_calculator_says_what_is_wrong(
    office: ApiTester, change: dict[str, Any], pointer: str, code: str
) -> None:
    given = {**random_instance(4, crews=2, jobs=6), **change}
    answer = office.post(f"{ROOT}/calculations/crew-plan", given)
    assert answer.status_code == 400
    assert pointer in str(answer.json()) and code in str(answer.json())
