"""Driving between places: great circle times a detour, or a matrix service over HTTP.

The great circle uses the haversine formula on the IUGG mean radius R1 = 6371.0088 km
(H. Moritz, Geodetic Reference System 1980, Journal of Geodesy 74, 2000). The detour factor of
1.3 and 50 km/h are common practice for suburban roads; a company sets its own.
"""

from __future__ import annotations

import json
import math
import urllib.error
import urllib.request
from collections.abc import Callable, MutableMapping, Sequence
from dataclasses import dataclass, field
from http.client import HTTPException
from typing import Protocol

from contractor.engine.errors import InputError

MEAN_RADIUS_KM = 6371.0088
MATRIX_SCHEMA = "travel-matrix/1"
MOST_BYTES = 50_000_000
MOST_MINUTES = 48 * 60


@dataclass(frozen=True)
class Place:
    """WGS 84 degrees. InputError ``coordinate_out_of_range`` outside -90..90, -180..180."""

    latitude: float
    longitude: float

    def __post_init__(self) -> None:
        if not (-90 <= self.latitude <= 90 and -180 <= self.longitude <= 180):
            raise InputError(
                "coordinate_out_of_range",
                "/coordinates",
                f"({self.latitude:g}, {self.longitude:g}) is no place on earth.",
                "Give latitude -90 to 90, then longitude -180 to 180, in degrees.",
            )


@dataclass(frozen=True)
class Leg:
    """One way by road."""

    km: float
    minutes: float


@dataclass(frozen=True)
class TravelMatrix:
    """``legs[i][j]`` leads from place i to place j; ``source`` says where the numbers are from."""

    legs: tuple[tuple[Leg, ...], ...]
    source: str


def whole_minutes(matrix: TravelMatrix) -> tuple[tuple[int, ...], ...]:
    """Return the minutes rounded up, as service-visits/1 wants them.

    A hair above a whole minute is that minute, not the next.
    """
    return tuple(tuple(math.ceil(round(leg.minutes, 6)) for leg in row) for row in matrix.legs)


class TravelProvider(Protocol):
    """Anything that says how long it takes from each place to each other."""

    def matrix(self, places: Sequence[Place]) -> TravelMatrix: ...


def great_circle_km(a: Place, b: Place) -> float:
    """Return the distance along the great circle between ``a`` and ``b`` (haversine)."""
    phi_a, phi_b = math.radians(a.latitude), math.radians(b.latitude)
    half_lat = math.sin((phi_b - phi_a) / 2) ** 2
    half_lon = math.sin(math.radians(b.longitude - a.longitude) / 2) ** 2
    chord = half_lat + math.cos(phi_a) * math.cos(phi_b) * half_lon
    return 2 * MEAN_RADIUS_KM * math.asin(math.sqrt(min(chord, 1.0)))


@dataclass(frozen=True)
class GreatCircleTravel:
    """Straight distance times ``detour`` at a constant speed; needs no network."""

    detour: float = 1.3
    speed_kmh: float = 50.0

    def __post_init__(self) -> None:
        if not (1 <= self.detour <= 5 and 5 <= self.speed_kmh <= 150):
            raise InputError(
                "travel_rate_out_of_range",
                "/travel",
                f"Detour {self.detour:g} or speed {self.speed_kmh:g} km/h is not usable.",
                "Give a detour from 1 to 5 and a speed from 5 to 150 km/h.",
            )

    def leg(self, a: Place, b: Place) -> Leg:
        km = great_circle_km(a, b) * self.detour
        return Leg(km, km / self.speed_kmh * 60)

    def matrix(self, places: Sequence[Place]) -> TravelMatrix:
        legs = tuple(tuple(self.leg(a, b) for b in places) for a in places)
        return TravelMatrix(legs, f"great circle x {self.detour:g} at {self.speed_kmh:g} km/h")


class MatrixRefusedError(ValueError):
    """The matrix service cannot be reached or gave an answer that cannot be used."""


CacheKey = tuple[float, float, float, float]


@dataclass
class HttpMatrixTravel:
    """A matrix service, asked only for what the cache lacks; the great circle when it fails.

    It gets ``{"schema": "travel-matrix/1", "places": [[latitude, longitude], ...]}`` by POST and
    answers ``{"km": [[...]], "minutes": [[...]]}``. ``cache`` maps (latitude, longitude) pairs,
    rounded to 5 decimals (about 1 m), to legs. After a failure the service is left alone for
    ``retry_after_s`` seconds of ``clock``, so that a plan does not wait for each time-out.
    """

    url: str
    clock: Callable[[], float]
    fallback: TravelProvider = field(default_factory=GreatCircleTravel)
    cache: MutableMapping[CacheKey, Leg] = field(default_factory=dict)
    timeout_s: float = 5.0
    retry_after_s: float = 60.0
    token: str | None = None
    most_cached: int = 500_000
    _failed_at: float | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        if not self.url.startswith(("https://", "http://")):
            raise InputError(
                "matrix_url_not_http",
                "/travel/url",
                f"{self.url!r} is no http(s) address.",
                "Give an address that starts with https://.",
            )

    def matrix(self, places: Sequence[Place]) -> TravelMatrix:
        """Return the matrix; its ``source`` says why where the fallback had to do."""
        keys = [[_key(a, b) for b in places] for a in places]
        if any(key not in self.cache for row in keys for key in row):
            try:
                self._ask(places, keys)
            except MatrixRefusedError as error:
                instead = self.fallback.matrix(places)
                return TravelMatrix(instead.legs, f"{instead.source} ({error})")
        legs = tuple(tuple(self.cache[key] for key in row) for row in keys)
        return TravelMatrix(legs, "matrix service")

    def _ask(self, places: Sequence[Place], keys: list[list[CacheKey]]) -> None:
        now = self.clock()
        if self._failed_at is not None and now - self._failed_at < self.retry_after_s:
            raise MatrixRefusedError("the matrix service failed a moment ago")
        try:
            legs = _read_legs(self._post(places), len(places))
        except MatrixRefusedError:
            self._failed_at = now
            raise
        self._failed_at = None
        if len(self.cache) > self.most_cached:
            self.cache.clear()
        for row, found in zip(keys, legs, strict=True):
            self.cache.update(zip(row, found, strict=True))

    def _post(self, places: Sequence[Place]) -> object:
        body = {
            "schema": MATRIX_SCHEMA,
            "places": [[place.latitude, place.longitude] for place in places],
        }
        headers = {"Content-Type": "application/json", "Accept": "application/json"}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        request = urllib.request.Request(  # noqa: S310 - the scheme is checked above
            self.url, json.dumps(body).encode(), headers
        )
        try:
            with _OPENER.open(request, timeout=self.timeout_s) as answer:
                text = answer.read(MOST_BYTES + 1)
            if len(text) > MOST_BYTES:
                raise MatrixRefusedError("the answer of the matrix service is too large")
            return json.loads(text)
        except (urllib.error.URLError, HTTPException, OSError) as error:
            raise MatrixRefusedError(f"the matrix service failed: {_short(error)}") from error
        except ValueError as error:
            if isinstance(error, MatrixRefusedError):
                raise
            raise MatrixRefusedError("the matrix service answered no JSON") from error


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """A configured address is meant as it is; a redirect counts as a failure."""

    def redirect_request(self, *_args: object, **_kwargs: object) -> None:
        return None


_OPENER = urllib.request.build_opener(_NoRedirect())


def _short(error: Exception) -> str:
    if isinstance(error, urllib.error.HTTPError):
        return f"HTTP {error.code}"
    reason = getattr(error, "reason", error)
    return "time-out" if isinstance(reason, TimeoutError) else type(reason).__name__


def _key(a: Place, b: Place) -> CacheKey:
    digits = 5
    return (
        round(a.latitude, digits),
        round(a.longitude, digits),
        round(b.latitude, digits),
        round(b.longitude, digits),
    )


def _read_legs(answer: object, size: int) -> list[list[Leg]]:
    if not isinstance(answer, dict):
        raise MatrixRefusedError("the matrix service answered no object")
    km = _table(answer.get("km"), size, "km")
    minutes = _table(answer.get("minutes"), size, "minutes")
    if any(minute > MOST_MINUTES for row in minutes for minute in row):
        raise MatrixRefusedError("the matrix service answered more than two days of driving")
    return [
        [Leg(*pair) for pair in zip(km_row, minute_row, strict=True)]
        for km_row, minute_row in zip(km, minutes, strict=True)
    ]


def _table(value: object, size: int, name: str) -> list[list[float]]:
    """Return ``value`` as size x size finite numbers from 0 up."""
    rows = value if isinstance(value, list) else []
    is_square = len(rows) == size and all(
        isinstance(row, list) and len(row) == size for row in rows
    )
    if not is_square:
        raise MatrixRefusedError(f"the matrix service answered no {size} x {size} {name}")
    for number in (number for row in rows for number in row):
        is_number = isinstance(number, int | float) and not isinstance(number, bool)
        if not is_number or not math.isfinite(number) or number < 0:
            raise MatrixRefusedError(f"the matrix service answered {name} that are no numbers")
    return [[float(number) for number in row] for row in rows]
