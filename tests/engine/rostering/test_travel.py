"""Distances against published figures; the HTTP provider against a server on 127.0.0.1."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, ClassVar

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.rostering.travel import (
    MEAN_RADIUS_KM,
    GreatCircleTravel,
    HttpMatrixTravel,
    Leg,
    Place,
    TravelMatrix,
    great_circle_km,
    whole_minutes,
)

PLACES = st.builds(Place, st.floats(-90, 90), st.floats(-180, 180))
TOWN = [Place(41.0, -93.0), Place(41.1, -93.2), Place(40.9, -93.1)]


def test_the_radius_is_that_of_the_iugg() -> None:
    """R1 = (2a + b) / 3 with the WGS 84 axes a = 6378137 m, b = 6356752.3142 m (NGA 8350.2)."""
    assert pytest.approx((2 * 6378.137 + 6356.7523142) / 3, abs=1e-4) == MEAN_RADIUS_KM


@pytest.mark.parametrize(
    ("a", "b", "degrees"),
    [
        # Arc lengths that need no formula: parts of a great circle.
        (Place(0, 0), Place(90, 0), 90),
        (Place(0, 0), Place(0, 90), 90),
        (Place(0, -90), Place(0, 90), 180),
        (Place(90, 0), Place(-90, 123), 180),
        (Place(10, 20), Place(11, 20), 1),
        (Place(0, 179.5), Place(0, -179.5), 1),
        (Place(45, 0), Place(45, 180), 90),
        (Place(12, 34), Place(12, 34), 0),
    ],
)
def test_arcs_of_known_angle(a: Place, b: Place, degrees: float) -> None:
    assert great_circle_km(a, b) == pytest.approx(
        degrees / 180 * 3.141592653589793 * MEAN_RADIUS_KM, abs=1e-6
    )


def test_a_published_haversine_example() -> None:
    """BNA (36.12, -86.67) to LAX (33.94, -118.40): 2887.26 km on a radius of 6372.8 km, the
    example used by collections of haversine programs (from memory, confirm)."""
    km = great_circle_km(Place(36.12, -86.67), Place(33.94, -118.40))
    assert km * 6372.8 / MEAN_RADIUS_KM == pytest.approx(2887.2599506, abs=1e-6)


@given(PLACES, PLACES, PLACES)
@settings(deadline=None)
def test_distances_are_symmetric_and_obey_the_triangle(a: Place, b: Place, c: Place) -> None:
    assert great_circle_km(a, b) == pytest.approx(great_circle_km(b, a), abs=1e-6)
    assert great_circle_km(a, c) <= great_circle_km(a, b) + great_circle_km(b, c) + 1e-3


def test_the_detour_and_the_speed_make_minutes() -> None:
    """One degree of latitude is 111.195 km; x 1.3 at 50 km/h is 173.46 min."""
    leg = GreatCircleTravel().leg(Place(40, -90), Place(41, -90))
    assert leg.km == pytest.approx(111.19508 * 1.3, abs=1e-3)
    assert leg.minutes == pytest.approx(leg.km / 50 * 60)


def test_minutes_are_rounded_up() -> None:
    row = (Leg(0, 0), Leg(1, 1.2), Leg(1, 2.0), Leg(1, 0.1 * 30 + 1e-12))
    assert whole_minutes(TravelMatrix((row,), "made up")) == ((0, 2, 2, 3),)


@pytest.mark.parametrize("place", [(91, 0), (0, 181), (float("nan"), 0)])
def test_no_place_on_earth(place: tuple[float, float]) -> None:
    with pytest.raises(InputError) as refused:
        Place(*place)
    assert refused.value.code == "coordinate_out_of_range"


@pytest.mark.parametrize("rates", [(0.9, 50), (1.3, 0), (1.3, float("nan")), (6, 50)])
def test_unusable_rates_are_refused(rates: tuple[float, float]) -> None:
    with pytest.raises(InputError) as refused:
        GreatCircleTravel(*rates)
    assert refused.value.code == "travel_rate_out_of_range"


class MatrixHandler(BaseHTTPRequestHandler):
    """Answers 10 km and 20 min from each place to each other, or as ``fault`` says."""

    fault: ClassVar[str] = ""
    requests: ClassVar[list[dict[str, Any]]] = []

    def do_POST(self) -> None:
        body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        type(self).requests.append({"body": body, "token": self.headers["Authorization"]})
        size = len(body["places"])
        km: list[list[Any]] = [[0 if i == j else 10 for j in range(size)] for i in range(size)]
        minutes = [[2 * number for number in row] for row in km]
        answer: Any = {"km": km, "minutes": minutes}
        if self.fault == "slow":
            time.sleep(0.6)
        elif self.fault == "negative":
            km[0][1] = -1
        elif self.fault == "not finite":
            km[0][1] = float("inf")
        elif self.fault == "small":
            km.pop()
        elif self.fault == "list":
            answer = []
        elif self.fault == "days":
            minutes[0][1] = 3000
        text = b"no json" if self.fault == "no json" else json.dumps(answer).encode()
        with suppress(OSError):  # the slow answer finds nobody there
            self._send(text)

    def _send(self, text: bytes) -> None:
        self.send_response({"500": 500, "redirect": 302}.get(self.fault, 200))
        if self.fault == "redirect":
            self.send_header("Location", "/elsewhere")
        self.end_headers()
        self.wfile.write(text)

    def log_message(self, *_args: object) -> None:
        pass


@pytest.fixture
def server() -> Iterator[str]:
    MatrixHandler.fault = ""
    MatrixHandler.requests = []
    httpd = ThreadingHTTPServer(("127.0.0.1", 0), MatrixHandler)
    thread = threading.Thread(target=httpd.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{httpd.server_port}/matrix"
    httpd.shutdown()
    httpd.server_close()
    thread.join()


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def provider(url: str, clock: Clock | None = None, timeout_s: float = 20) -> HttpMatrixTravel:
    return HttpMatrixTravel(url, clock or Clock(), timeout_s=timeout_s, token="made-up")


def test_the_service_is_asked_once_for_what_the_cache_lacks(server: str) -> None:
    travel = provider(server)
    for _ in range(2):
        found = travel.matrix(TOWN)
        assert found.source == "matrix service"
        assert found.legs[0] == (Leg(0, 0), Leg(10, 20), Leg(10, 20))
    assert travel.matrix(TOWN[:2]).legs[1][0] == Leg(10, 20)
    assert len(MatrixHandler.requests) == 1
    assert MatrixHandler.requests[0] == {
        "body": {
            "schema": "travel-matrix/1",
            "places": [[41.0, -93.0], [41.1, -93.2], [40.9, -93.1]],
        },
        "token": "Bearer made-up",
    }


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        ("500", "HTTP 500"),
        ("redirect", "HTTP 302"),
        ("slow", "time-out"),
        ("no json", "no JSON"),
        ("list", "no object"),
        ("small", "no 3 x 3 km"),
        ("negative", "no numbers"),
        ("not finite", "no numbers"),
        ("days", "two days"),
    ],
)
def test_a_failing_service_gives_the_great_circle_and_says_why(
    server: str, fault: str, reason: str
) -> None:
    MatrixHandler.fault = fault
    travel = provider(server, timeout_s=0.2 if fault == "slow" else 20)
    found = travel.matrix(TOWN)
    assert found.legs == GreatCircleTravel().matrix(TOWN).legs
    assert reason in found.source
    assert not travel.cache


def test_after_a_failure_the_service_is_left_alone_for_a_while(server: str) -> None:
    clock = Clock()
    travel = provider(server, clock)
    MatrixHandler.fault = "500"
    travel.matrix(TOWN)
    MatrixHandler.fault = ""
    clock.now = 59.0
    assert "a moment ago" in travel.matrix(TOWN).source
    assert len(MatrixHandler.requests) == 1
    clock.now = 60.0
    assert travel.matrix(TOWN).source == "matrix service"


def test_nobody_listening_gives_the_great_circle(server: str) -> None:
    travel = provider("http://127.0.0.1:1/matrix")
    found = travel.matrix(TOWN)
    assert found.legs == GreatCircleTravel().matrix(TOWN).legs
    assert "ConnectionRefusedError" in found.source


@pytest.mark.parametrize("url", ["file:///etc/passwd", "ftp://example.org/", "example.org"])
def test_only_http_addresses_are_asked(url: str) -> None:
    with pytest.raises(InputError) as refused:
        HttpMatrixTravel(url, Clock())
    assert refused.value.code == "matrix_url_not_http"
