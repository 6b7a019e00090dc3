"""Bodies that the reference shows; a test sends every one of them.

Keys are "<METHOD> <path below /api/v1>". Keys of rows stand for rows of your own.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.conf import settings

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
Examples = Mapping[str, Any]
_examples: dict[str, Any] = {}


def add_examples(examples: Examples) -> None:
    """Show these in the reference; each app adds its own with its addresses."""
    _examples.update(examples)


def example_of(method: str, path: str) -> Any:
    """Return the example of an operation, None where there is none."""
    return _examples.get(f"{method.upper()} {path.removeprefix('/api/v1')}")


def fixture(name: str) -> Any:
    """Return a document of ``fixtures/``; None where they were left at home."""
    path = FIXTURES / name
    return json.loads(path.read_text("utf-8")) if path.exists() else None


CUT_STOCK = {
    "schema": "cut-stock/1",
    "name": "two pieces",
    "kerf": 1,
    "end_trim": 0,
    "min_offcut": 3,
    "stock": [{"id": "bar", "length": 13, "cost": 100, "supply": 5, "offcut": False}],
    "items": [{"id": "piece", "length": 6, "demand": 2}],
}
READINGS = {
    "schema": "movement/1",
    "name": "north wall",
    "readings": [
        {"on": f"2026-0{n}-01", "station": "5 ft", "height": "4 ft", "inward": f"{8 - n}/8 in"}
        for n in (1, 3, 5, 7)
    ],
}
SHORT_WALL = "surveys/short-wall.json"
ONE_BRACE = {
    "schema": "brace-layout/1",
    "braces": [{"mark": "B1", "at": "2 ft", "beam_length": "7 ft 9 1/2 in"}],
}
CREW_WEEK = {
    "schema": "install-sched/1",
    "today": "2026-03-02",
    "first_day": "2026-03-02",
    "last_day": "2026-03-13",
    "workdays_per_week": [0, 1, 2, 3, 4],
    "public_holidays": [],
    "hours_per_half_day": 4,
    "max_halfdays": 8,
    "max_drive_min": 90,
    "road_factor": 1.2,
    "speed_kmh": 60,
    "branches": [{"id": "north", "xy": [0.0, 0.0]}],
    "crews": [
        {
            "id": "crew ash",
            "branch": "north",
            "size": 2,
            "pace": 1.0,
            "skills": {"lead_safe": "2026-12-31"},
            "payload_kg": 1500,
            "absences": [],
        }
    ],
    "jobs": [
        {
            "id": "12 Alder Lane",
            "xy": [10.0, 0.0],
            "braces": 4,
            "labour_h": 6.0,
            "skills": [],
            "min_size": 2,
            "weight_kg": 300,
            "material_ready": "2026-03-02",
            "permit_release": "2026-03-02",
            "weekdays": [0, 1, 2, 3, 4],
            "blackout": [],
            "severity": 2,
            "due": "2026-03-06",
            "confirmed": None,
        }
    ],
    "weights": {
        "tardy_half_day": 60,
        "sev": {"1": 1, "2": 2, "3": 4, "4": 8},
        "travel_min": 1,
        "weekend_split": 40,
        "crew_change": 100,
        "date_change": 500,
        "date_change_per_day": 50,
        "unscheduled": 1000,
    },
}


def calculations() -> Examples:
    """Return the examples of the calculators; those of a survey only with the fixtures."""
    plain = {"cutting-plan": CUT_STOCK, "movement": READINGS, "crew-plan": CREW_WEEK}
    survey = fixture("surveys/perpendicular-16.json")
    if survey is None:
        return {f"POST /calculations/{name}": body for name, body in plain.items()}
    variants = [{"name": "as is"}, {"name": "wider", "spacing_max": "72 in"}]
    of_survey = {
        "brace-layout": survey,
        "screening": {"survey": survey, "positions": ["36 in", "8 ft", "13 ft"]},
        "what-if": {"schema": "what-if-request/1", "survey": survey, "variants": variants},
        "bill-of-materials": {
            "schema": "bill-request/1",
            "name": "one wall",
            "walls": [{"name": "stair", "survey": fixture(SHORT_WALL), "layout": ONE_BRACE}],
            "parts": fixture("parts.json"),
            "rates": fixture("rates.json"),
        },
    }
    return {f"POST /calculations/{name}": body for name, body in (plain | of_survey).items()}


EXAMPLES: Examples = {
    "PATCH /companies/{id}": {"units": "si"},
    "POST /branches": {"company": 1, "name": "West", "time_zone": "America/Denver"},
    "PATCH /branches/{id}": {"name": "Northern"},
    "POST /users": {"username": "kim", "first_name": "Kim", "branch": 3, "role": "crew"},
    "POST /users/bulk": {"rows": [{"username": "lee", "branch": 3, "role": "warehouse"}]},
    "PATCH /users/{id}": {"email": "kim@example.org"},
    "POST /memberships": {"user": 7, "branch": 3, "role": "office"},
    "POST /tokens": {"name": "accounting", "scopes": ["jobs:read", "inventory:read"]},
    "POST /webhook-endpoints": {
        "company": 1,
        "branch": 3,
        "url": "https://hooks.example.org/tautline",
        "kinds": ["job.*", "kit.loaded"],
    },
    "PATCH /webhook-endpoints/{id}": {"kinds": ["job.installed"]},
    "POST /webhook-endpoints/{id}/replay": {"after": 0},
}
