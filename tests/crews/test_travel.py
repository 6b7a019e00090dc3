"""Where drives come from: the plane, the great circle, a matrix service; and a geocoder."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from threading import Thread
from typing import Any, ClassVar

import pytest

from contractor.api.models import Branch
from contractor.crews.models import Crew, CrewPlan
from contractor.crews.services import geocoding, plans, travel
from contractor.crews.services.instance import build_instance, input_hash
from contractor.engine.rostering.costs import drive_min
from contractor.engine.rostering.reading import read_instance
from contractor.engine.rostering.travel import GreatCircleTravel, Place
from jobs.models import Job, Site
from tests.crews.conftest import FRIDAY, MONDAY
from tests.crews.test_plans import NOW

pytestmark = pytest.mark.django_db(transaction=True)
SPAN = {"today": MONDAY, "first_day": MONDAY, "last_day": FRIDAY}


class _Matrix(BaseHTTPRequestHandler):
    """Answers 42 minutes for every leg."""

    asked: ClassVar[list[Any]] = []

    def do_POST(self) -> None:
        body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        type(self).asked.append(body["places"])
        size = len(body["places"])
        table = [[42.0] * size for _ in range(size)]
        self.send_response(200)
        self.end_headers()
        self.wfile.write(json.dumps({"km": table, "minutes": table}).encode())

    def log_message(self, *args: Any) -> None:
        """Say nothing."""


@pytest.fixture
def matrix_url() -> Iterator[str]:
    server = HTTPServer(("127.0.0.1", 0), _Matrix)
    Thread(target=server.serve_forever, daemon=True).start()
    _Matrix.asked = []
    yield f"http://127.0.0.1:{server.server_port}/matrix"
    server.shutdown()
    server.server_close()


def choose_matrix(branch: Branch) -> None:
    branch.company.settings = {"travel": {"provider": "matrix"}}
    branch.company.save()


def test_without_a_matrix_the_plane_is_kept(yard: Branch, make_job: Callable[..., Job]) -> None:
    make_job()
    choose_matrix(yard)  # chosen, but no address configured
    built = build_instance(yard, **SPAN)
    document, source = travel.with_drives(built.document, yard)
    assert document == built.document
    assert source == "plane at the branch x 1.3 at 60 km/h"
    assert isinstance(travel.provider_of(yard), GreatCircleTravel)


def test_minutes_of_the_matrix_reach_the_plan(
    yard: Branch,
    make_crew: Callable[..., Crew],
    make_job: Callable[..., Job],
    settings: Any,
    matrix_url: str,
) -> None:
    settings.TRAVEL_MATRIX_URL = matrix_url
    choose_matrix(yard)
    make_crew("A")
    make_job(0.1)
    make_job(0.0)
    plan = plans.request_plan(
        yard.pk, today=MONDAY, first_day=MONDAY, last_day=FRIDAY, seconds=1, seed=1
    )
    plans.compute_plan(plan.pk, at=NOW)
    plan.refresh_from_db()
    instance = read_instance(plan.instance)
    drives = [drive_min(instance, instance.crews[0], job) for job in instance.jobs]
    assert drives == pytest.approx([42.0, 42.0], abs=0.01)
    assert (plan.status, plan.report["travel"]) == ("proposed", "matrix service")
    plans.publish_plan(plan.pk)
    assert len(_Matrix.asked) == 1, "nothing is asked while rows are locked"
    assert CrewPlan.objects.get().status == "published"


def test_a_moved_site_is_a_changed_input(yard: Branch, make_job: Callable[..., Job]) -> None:
    job = make_job()
    before = input_hash(build_instance(yard, **SPAN).document)
    Site.objects.filter(pk=job.site_id).update(latitude=42.3)
    assert input_hash(build_instance(yard, **SPAN).document) != before


def test_a_dead_matrix_service_is_replaced(
    yard: Branch, make_job: Callable[..., Job], settings: Any
) -> None:
    settings.TRAVEL_MATRIX_URL = "http://127.0.0.1:9/none"
    choose_matrix(yard)
    make_job()
    _, source = travel.with_drives(build_instance(yard, **SPAN).document, yard)
    assert source.startswith("great circle x 1.3 at 50 km/h (the matrix service failed")


class Gazetteer:
    """Knows one address."""

    def locate(self, address: str) -> Place | None:
        return Place(42.05, -74.1) if address == "12 Alder Lane" else None


def test_sites_are_located_by_the_configured_geocoder(
    make_job: Callable[..., Job], settings: Any
) -> None:
    known, unknown = make_job().site, make_job().site
    Site.objects.update(latitude=None, longitude=None)
    Site.objects.filter(pk=known.pk).update(address="12 Alder Lane")
    Site.objects.filter(pk=unknown.pk).update(address="nowhere")
    assert geocoding.locate_sites() == 0, "no geocoder, no address leaves"
    settings.GEOCODER = f"{__name__}.Gazetteer"
    assert geocoding.locate_sites() == 1
    known.refresh_from_db()
    unknown.refresh_from_db()
    assert (known.latitude, known.longitude, unknown.latitude) == (42.05, -74.1, None)
    assert geocoding.locate_sites() == 0
