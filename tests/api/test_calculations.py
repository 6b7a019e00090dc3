"""The calculators answer what the engine answers, store nothing, and say what is wrong where."""

from __future__ import annotations

import json
import threading
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.urls import resolve
from django.utils import timezone

from contractor import queue
from contractor.api.calculations import CALCULATIONS
from contractor.api.examples import example_of
from contractor.api.models import AuditEntry, CalculationRun, Event, RememberedAnswer
from contractor.api.services import runs
from contractor.engine.screened_layout import lay_out_screened
from contractor.engine.survey_reader import read_survey
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester

ROOT = Path(django_settings.BASE_DIR) / "fixtures"
URL = "/api/v1/calculations/"


def survey(name: str = "perpendicular-16") -> dict[str, Any]:
    document: dict[str, Any] = json.loads((ROOT / "surveys" / f"{name}.json").read_text())
    return document


def bars() -> dict[str, Any]:
    """Two pieces of 6 out of bars of 13: one bar, with one of kerf between them."""
    return {
        "schema": "cut-stock/1",
        "name": "two pieces",
        "kerf": 1,
        "end_trim": 0,
        "min_offcut": 3,
        "stock": [{"id": "b", "length": 13, "cost": 100, "supply": 5, "offcut": False}],
        "items": [{"id": "p", "length": 6, "demand": 2}],
    }


READINGS = {
    "schema": "movement/1",
    "name": "north",
    "readings": [
        {"on": f"2026-0{month}-01", "station": "5 ft", "height": "4 ft", "inward": f"{month} in"}
        for month in range(1, 7)
    ],
}


@pytest.mark.parametrize("units", ["us", "si"])
def test_layout_is_the_engines(office: ApiTester, units: str) -> None:
    answer = office.post(f"{URL}brace-layout?units={units}", survey())
    assert answer.status_code == 200, answer.content
    expected = lay_out_screened(read_survey(survey())).document("si" if units == "si" else "us")
    assert answer.json() == json.loads(json.dumps(expected))


def test_screening_of_given_positions_and_of_its_own_layout(office: ApiTester) -> None:
    own = office.post(f"{URL}screening", {"survey": survey()})
    assert own.status_code == 200, own.content
    assert own.json()["disclaimer"]
    body = {"survey": survey(), "positions": ["36 in", "96 in", "13 ft"]}
    given = office.post(f"{URL}screening", body)
    assert given.status_code == 200, given.content
    assert len(given.json()["braces"]) == 3


def test_bill_of_materials(office: ApiTester) -> None:
    layout = office.post(f"{URL}brace-layout", survey()).json()
    body = {
        "schema": "bill-request/1",
        "name": "one wall",
        "walls": [{"name": "north", "survey": survey(), "layout": layout}],
        "parts": json.loads((ROOT / "parts.json").read_text()),
        "rates": json.loads((ROOT / "rates.json").read_text()),
    }
    answer = office.post(f"{URL}bill-of-materials", body)
    assert answer.status_code == 200, answer.content
    assert answer.json()["schema"] == "bill-of-materials/1"


def test_cutting_plan(office: ApiTester) -> None:
    answer = office.post(f"{URL}cutting-plan?seconds=1", bars())
    assert answer.status_code == 200, answer.content
    assert answer.json()["schema"] == "cut-plan/1"
    assert len(answer.json()["bars"]) == 1


def test_movement(office: ApiTester) -> None:
    answer = office.post(f"{URL}movement", READINGS)
    assert answer.status_code == 200, answer.content
    assert answer.json()["schema"] == "movement-verdict/1"


@pytest.mark.parametrize("name", sorted(CALCULATIONS))
@pytest.mark.parametrize("body", [{}, {"schema": "x"}, {"survey": 1}, {"colour": "red"}, [], 3])
def test_rubbish_is_400_with_a_pointer(office: ApiTester, name: str, body: Any) -> None:
    document = assert_problem(office.post(URL + name, body), 400, "invalid_input")
    assert all(entry["pointer"].startswith("#") for entry in document["errors"])
    assert all(entry["code"] != "invalid" for entry in document["errors"])


def test_a_gap_in_the_survey_names_field_reason_remedy(office: ApiTester) -> None:
    document = survey()
    document["wall"]["length"] = 20
    answer = assert_problem(office.post(f"{URL}brace-layout", document), 400, "invalid_input")
    (error,) = answer["errors"]
    assert error["pointer"] == "#/wall/length"
    assert error["code"] == "quantity_without_unit"
    assert error["remedy"]


def test_anonymous_may_not_calculate(anonymous: ApiTester) -> None:
    response = anonymous.post(f"{URL}movement", READINGS)
    assert_problem(response, 401, "not_authenticated")


def test_nothing_is_stored(office: ApiTester) -> None:
    before = AuditEntry.objects.count()
    office.post(f"{URL}brace-layout", survey())
    assert AuditEntry.objects.count() == before
    assert not Event.objects.exists()
    assert not RememberedAnswer.objects.exists()
    assert not CalculationRun.objects.exists()


@pytest.mark.parametrize("seconds", ["0", "-1", "121", "x", "nan", "1e9"])
def test_seconds_out_of_range(office: ApiTester, seconds: str) -> None:
    response = office.post(f"{URL}cutting-plan?seconds={seconds}", bars())
    assert_problem(response, 400, "invalid_parameter")


def start(client: ApiTester, name: str = "cutting-plan", body: Any = None) -> dict[str, Any]:
    answer = client.post(URL + name, body or bars(), HTTP_PREFER="respond-async")
    assert answer.status_code == 202, answer.content
    run: dict[str, Any] = answer.json()
    assert answer["Location"] == f"/api/v1/calculation-runs/{run['id']}"
    assert run["status"] == "waiting"
    return run


def test_a_long_calculation_runs_behind_a_status_address(office: ApiTester) -> None:
    run = start(office)
    runs.execute(run["id"])
    done = office.get(f"/api/v1/calculation-runs/{run['id']}").json()
    assert done["status"] == "done"
    assert done["answer"]["schema"] == "cut-plan/1"


def test_a_wrong_document_fails_with_its_pointer(office: ApiTester) -> None:
    run = start(office, body={"schema": "nonsense"})
    runs.execute(run["id"])
    failed = office.get(f"/api/v1/calculation-runs/{run['id']}").json()
    assert failed["status"] == "failed"
    assert failed["problem"]["errors"][0]["pointer"] == "#/schema"


def test_a_waiting_run_can_be_cancelled_and_stays_so(office: ApiTester) -> None:
    run = start(office)
    address = f"/api/v1/calculation-runs/{run['id']}"
    assert office.post(f"{address}/cancel").json()["status"] == "cancelled"
    runs.execute(run["id"])
    assert office.get(address).json()["status"] == "cancelled"
    assert_problem(office.post(f"{address}/cancel"), 409, "wrong_state")


def test_a_running_one_hears_of_the_cancellation(
    office: ApiTester, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = start(office)
    heard: list[bool] = []

    def work(document: Any, system: str, limits: Any) -> dict[str, Any]:
        heard.append(limits.cancelled())
        runs.cancel_run(run["id"])
        monkeypatch.setattr(runs, "_LOOK_EVERY_S", 0)
        heard.append(limits.cancelled())
        return {"schema": "too late"}

    changed = type(CALCULATIONS["movement"])("cutting-plan", "", "", work)
    monkeypatch.setitem(CALCULATIONS, "cutting-plan", changed)
    runs.execute(run["id"])
    assert heard == [False, True]
    row = CalculationRun.objects.get()
    assert (row.status, row.answer) == ("cancelled", None)


def test_a_lost_worker_is_replaced_once_then_the_run_fails(office: ApiTester) -> None:
    run, at = start(office), timezone.now()
    for _ in range(2):
        assert runs.waiting(at) == [run["id"]]
        assert runs._claim(run["id"], at) is not None
        assert runs.waiting(at) == []  # under its lease
        at += timedelta(seconds=runs.LONGEST_S + 61)
    runs.execute(run["id"], now=lambda: at)
    row = CalculationRun.objects.get()
    assert row.status == "failed"
    assert "twice" in row.problem["detail"]


def test_runs_are_ones_own(office: ApiTester, owner: ApiTester) -> None:
    run = start(office)
    assert_problem(owner.get(f"/api/v1/calculation-runs/{run['id']}"), 404, "not_found")
    assert owner.get("/api/v1/calculation-runs").json()["results"] == []


def test_ten_may_wait(office: ApiTester) -> None:
    for _ in range(10):
        start(office)
    response = office.post(f"{URL}cutting-plan", bars(), HTTP_PREFER="respond-async")
    assert_problem(response, 429, "too_many_runs")


def test_runs_are_forgotten_after_a_day(office: ApiTester) -> None:
    start(office)
    assert runs.forget_old_runs(now=timezone.now()) == 0
    assert runs.forget_old_runs(now=timezone.now() + timedelta(hours=25)) == 1


def test_a_queued_run_is_nudged(office: ApiTester, django_capture_on_commit_callbacks: Any) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        start(office)
    assert ("contractor.api.tasks.run_calculations", {}) in queue.pending()
    queue._pending.clear()


def test_only_two_solvers_run_at_once(office: ApiTester, monkeypatch: pytest.MonkeyPatch) -> None:
    slots = threading.BoundedSemaphore(1)
    monkeypatch.setattr("contractor.api.endpoints.calculations._slots", slots)
    monkeypatch.setattr("contractor.api.endpoints.calculations.IN_REQUEST_S", 0.01)
    with slots:
        assert_problem(office.post(f"{URL}movement", READINGS), 503, "busy")
    assert office.post(f"{URL}movement", READINGS).status_code == 200


@pytest.mark.parametrize("body", ["null", "[]", "3", '"x"'])
def test_a_queued_document_is_an_object(office: ApiTester, body: str) -> None:
    response = office.generic(
        "POST",
        f"{URL}movement",
        body.encode(),
        content_type="application/json",
        HTTP_PREFER="respond-async",
    )
    assert_problem(response, 400, "invalid_input")


def body_of(client: ApiTester, name: str) -> Any:
    """Return what the reference shows; the bill of materials reads an answer of another."""
    if (body := example_of("POST", f"/calculations/{name}")) is not None:
        return body
    layout = client.post(f"{URL}brace-layout", survey()).json()
    return {
        "schema": "bill-request/1",
        "name": "one wall",
        "walls": [{"name": "north", "survey": survey(), "layout": layout}],
        "parts": json.loads((ROOT / "parts.json").read_text()),
        "rates": json.loads((ROOT / "rates.json").read_text()),
    }


def settled(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document without what tells how long a solver took."""
    return {name: value for name, value in document.items() if name not in CLOCKED}


CLOCKED = {"seconds", "solver", "stats", "effort", "trace", "log", "elapsed_s"}


@pytest.mark.parametrize("name", sorted(CALCULATIONS))
def test_each_one_answers_the_same_behind_a_status_address(office: ApiTester, name: str) -> None:
    body = body_of(office, name)
    at_once = office.post(f"{URL}{name}?units=si", body)
    assert at_once.status_code == 200, at_once.content
    run = office.post(f"{URL}{name}?units=si", body, HTTP_PREFER="respond-async").json()
    assert (run["name"], run["units"], run["status"]) == (name, "si", "waiting")
    runs.execute(run["id"])
    done = office.get(f"/api/v1/calculation-runs/{run['id']}").json()
    assert done["status"] == "done", done["problem"]
    assert settled(done["answer"]) == settled(at_once.json())


def test_progress_shows_while_it_runs(office: ApiTester, monkeypatch: pytest.MonkeyPatch) -> None:
    run = start(office)
    seen: list[Any] = []

    def work(document: Any, system: str, limits: Any) -> dict[str, Any]:
        limits.progress({"cost": 120, "bound": 100})
        shown = office.get(f"/api/v1/calculation-runs/{run['id']}").json()
        seen.extend([shown["status"], shown["progress"]])
        return {"schema": "cut-plan/1"}

    changed = type(CALCULATIONS["movement"])("cutting-plan", "", "", work)
    monkeypatch.setitem(CALCULATIONS, "cutting-plan", changed)
    runs.execute(run["id"])
    assert seen == ["running", {"cost": 120, "bound": 100}]


@pytest.mark.parametrize("name", sorted(CALCULATIONS))
def test_a_body_that_is_too_large_is_refused(office: ApiTester, name: str) -> None:
    answer = office.post(URL + name, {"name": "x" * (2 * 1024 * 1024)})
    assert_problem(answer, 413, "payload_too_large")


@pytest.mark.parametrize("name", sorted(CALCULATIONS))
def test_the_time_a_solver_gets_is_bounded(
    office: ApiTester, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    given: list[float] = []

    def work(document: Any, system: str, limits: Any) -> dict[str, Any]:
        given.append(limits.seconds)
        return {}

    view = resolve(URL + name).func.cls  # type: ignore[attr-defined]
    monkeypatch.setattr(view, "calculation", type(view.calculation)(name, "", "", work))
    office.post(f"{URL}{name}?seconds=100", {"a": 1})
    office.post(f"{URL}{name}?seconds=1.5", {"a": 1})
    assert given == [5.0, 1.5]
