"""The zero reading on the crew's page: marks from the survey, once, before the record closes."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from contractor.api.models import Event, User
from jobs.models import InstallRecord, Reading, Survey
from jobs.services import installs
from jobs.services.zero_readings import Spot, spots_of
from tests.conftest import ApiTester
from tests.jobs.conftest import NOON, brace_values
from tests.jobs.test_crew_page import SMALL_STEPS, save

pytestmark = pytest.mark.django_db(transaction=True)
READINGS = [
    {"at": "4 ft", "height": "22 in", "inward": "1/4 in"},
    {"at": "4 ft", "height": "44 in", "inward": "3/8 in"},
    {"at": "12 ft", "height": "44 in", "inward": "3/4 in"},
    {"at": "12 ft", "height": "66 in", "inward": "1/2 in"},
]


@pytest.fixture
def marked(install: InstallRecord) -> InstallRecord:
    """A survey measured the wall at two places along it, twice each."""
    Survey.objects.update(document={"slab": {"edge_gap": None}, "distress": {"readings": READINGS}})
    return install


@pytest.fixture
def crew(users: dict[str, User]) -> Client:
    client = Client()
    client.force_login(users["crew"], backend="django.contrib.auth.backends.ModelBackend")
    return client


def post(crew: Client, install: InstallRecord, **values: str) -> Any:
    form = {"key": f"zero-form-{len(values)}", **values}
    return crew.post(f"/crew/jobs/{install.job_id}/readings", form)


def test_marks_are_where_the_wall_bowed_most(marked: InstallRecord) -> None:
    foot = 12 * 64
    assert spots_of(marked.job) == [
        Spot("north wall", 4 * foot, 44 * 64),
        Spot("north wall", 12 * foot, 44 * 64),
    ]


def test_unknown_distress_has_no_marks(install: InstallRecord) -> None:
    Survey.objects.update(document={"distress": None})
    assert spots_of(install.job) == []


def test_readings_are_kept_once_and_not_asked_again(crew: Client, marked: InstallRecord) -> None:
    page = crew.get(f"/crew/jobs/{marked.job_id}/readings").content.decode()
    assert len(re.findall(r'name="spot-\d"', page)) == 2
    for _ in range(2):
        assert post(crew, marked, **{"spot-1": '3/4"'}).status_code == 303
    kept = Reading.objects.get()
    assert (kept.value_ticks, kept.source, kept.at_ticks) == (48, "crew", 144 * 64)
    page = crew.get(f"/crew/jobs/{marked.job_id}/readings").content.decode()
    assert len(re.findall(r'name="spot-\d"', page)) == 1
    assert "3/4" in crew.get(f"/crew/jobs/{marked.job_id}").content.decode()


@pytest.mark.parametrize("typed", ["", "12", "40 in"])
def test_nothing_and_nonsense_are_refused(crew: Client, marked: InstallRecord, typed: str) -> None:
    assert post(crew, marked, **{"spot-0": typed}).status_code == 400
    assert Reading.objects.count() == 0


def test_closing_needs_the_reading_or_a_reason(crew: Client, marked: InstallRecord) -> None:
    for brace in marked.braces.all():
        save(crew, brace)
    address = f"/crew/jobs/{marked.job_id}/close"
    refused = crew.post(address, {**SMALL_STEPS, "key": "closing-form"})
    assert refused.status_code == 409
    assert "Measure the wall, or write why" in refused.content.decode()
    form = {**SMALL_STEPS, "key": "closing-form", "no-zero": "shelves in front of the wall"}
    assert crew.post(address, form).status_code == 303
    closed = Event.objects.get(kind="install.closed")
    assert closed.data["no_zero_reading"] == "shelves in front of the wall"


SIGNED = {
    "installed_on": "2026-03-02",
    "checklist": {"clean_up": True, "hand_over": True},
    "left_with_homeowner": [],
    "signed_off_by": "M. Reyes",
}


def complete(install: InstallRecord) -> str:
    """Record every brace; return the address that closes the record."""
    for brace in install.braces.order_by("pk"):
        installs.record_brace(brace.pk, at=NOON, **brace_values(brace.planned_height_ticks))
    return f"/api/v1/install-records/{install.pk}/close"


def reading(at: str, on: str = "2026-03-02") -> dict[str, str]:
    return {"kind": "bow", "measured_on": on, "at": at, "height": "44 in", "value": "1/2 in"}


def test_api_names_the_marks_without_a_reading(marked: InstallRecord, owner: ApiTester) -> None:
    address = complete(marked)
    body = {"site": marked.job.site_id, "wall": "north wall"}
    rows = [reading("4 ft"), reading("12 ft", on="2026-03-01")]  # the second: before the crew came
    for row in rows:
        assert owner.post("/api/v1/readings", {**body, "readings": [row]}).status_code == 201
    refused = owner.act(address, "*", SIGNED)
    assert (refused.status_code, refused.json()["code"]) == (409, "zero_reading_missing")
    assert refused.json()["marks"] == [{"wall": "north wall", "at": "12'-0\"", "height": "3'-8\""}]
    assert "north wall, 12'" in refused.json()["detail"]
    marked.refresh_from_db()
    assert marked.status == "open"
    assert (
        owner.post("/api/v1/readings", {**body, "readings": [reading("12 ft")]}).status_code == 201
    )
    assert owner.act(address, "*", SIGNED).json()["status"] == "closed"


def test_api_closes_with_a_reason(marked: InstallRecord, owner: ApiTester) -> None:
    address = complete(marked)
    assert owner.act(address, "*", {**SIGNED, "no_zero_reading": " "}).status_code == 400
    answer = owner.act(address, "*", {**SIGNED, "no_zero_reading": "a freezer in front"})
    assert answer.status_code == 200
    closed = Event.objects.get(kind="install.closed")
    assert closed.data["no_zero_reading"] == "a freezer in front"
