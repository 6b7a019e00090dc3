"""Readings, the verdict on the wall, and what a wall that moves in sets off."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from contractor.api.models import Event
from contractor.errors import InvalidValueError
from jobs.models import Job, Reading
from jobs.services import readings

pytestmark = pytest.mark.django_db(transaction=True)
# Days and inches of the wall examples in tests/reference/worked_cases.json (topic trend).
DAYS = (0, 91, 182, 273, 365, 456, 547)
MOVING = (1.000, 1.031, 1.047, 1.078, 1.125, 1.141, 1.172)
STILL = (1.000, 1.016, 0.984, 1.000, 1.031, 1.000, 1.016)
START = date(2026, 3, 2)


def bow(day: int, inches: float) -> dict[str, Any]:
    return {
        "kind": "bow",
        "measured_on": START + timedelta(days=day),
        "at_ticks": 120 * 64,
        "height_ticks": 48 * 64,
        "value_ticks": round(inches * 64),
        "resolution_ticks": 1,
    }


def add(job: Job, values: tuple[float, ...]) -> list[Reading]:
    rows = [bow(day, inches) for day, inches in zip(DAYS, values, strict=True)]
    return readings.add_readings(
        site_pk=job.site_id, wall="north wall", rows=rows, source="homeowner"
    )


def test_wall_that_moves_in_asks_for_a_visit(installed: Job) -> None:
    add(installed, MOVING)
    request = installed.visit_requests.get()
    assert (request.reason, request.severity, request.status) == ("moving_in", 4, "open")
    assert request.wanted_by == START + timedelta(days=547 + 7)
    assert Event.objects.filter(kind="visit.requested").count() == 1
    assert installed.reminders.filter(kind="extra_reading").count() == 1


def test_still_wall_asks_for_nothing(installed: Job) -> None:
    add(installed, STILL)
    verdict = readings.movement_of(installed.site, "north wall")
    assert verdict is not None
    assert verdict["verdict"] == "not shown to move"
    assert installed.visit_requests.count() == 0


def test_moving_wall_reopens_a_closed_job(installed: Job) -> None:
    Job.objects.filter(pk=installed.pk).update(status=Job.Status.CLOSED)
    add(installed, MOVING)
    assert Job.objects.get(pk=installed.pk).status == Job.Status.INSTALLED


def test_more_bad_readings_do_not_ask_twice(installed: Job) -> None:
    add(installed, MOVING)
    readings.add_readings(
        site_pk=installed.site_id,
        wall="north wall",
        rows=[bow(600, 1.25)],
        source="homeowner",
    )
    assert installed.visit_requests.count() == 1


def test_same_day_twice_is_refused(installed: Job) -> None:
    with pytest.raises(InvalidValueError, match="already"):
        readings.add_readings(
            site_pk=installed.site_id,
            wall="north wall",
            rows=[bow(0, 1.0), bow(0, 1.1)],
            source="office",
        )
    assert Reading.objects.count() == 0


def test_wide_crack_asks_for_a_visit(installed: Job) -> None:
    row = {**bow(0, 0.375), "kind": "crack"}
    readings.add_readings(site_pk=installed.site_id, wall="north wall", rows=[row], source="crew")
    assert installed.visit_requests.get().reason == "crack"
