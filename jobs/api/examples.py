"""Bodies that the reference shows for this app; a test sends every one of them."""

from __future__ import annotations

from contractor.api.examples import Examples, fixture

SURVEY = fixture("surveys/perpendicular-16.json") or {}
CUSTOMER = {
    "reference": "C-1042",
    "name": "R. Alder",
    "email": "alder@example.org",
    "phone": "555-0101",
    "language": "en",
}
HOUSE = {
    "label": "12 Alder Lane",
    "address": "12 Alder Lane, Springfield",
    "latitude": 42.1,
    "longitude": -74.1,
    "time_zone": "America/New_York",
    "state": "NY",
    "built_year": 1962,
}
# Of a wall that is not built yet the layout is worked out anew, whatever stands here.
JOB_DOCUMENT = {
    "schema": "job-document/1",
    "key": "11111111-1111-4111-8111-111111111111",
    "exported_at": "2026-03-02T15:00:00Z",
    "engine": "1",
    "customer": {**CUSTOMER, "consents": []},
    "site": {"reference": "", **HOUSE},
    "walls": [
        {
            "wall": "north wall",
            "surveys": [{"revision": 1, "measured_on": "2026-02-27", "document": SURVEY}],
            "layout": {
                "revision": 1,
                "engine": "1",
                "outcome": "within_screening_limits",
                "layout": {},
                "screening": {},
                "bill": {},
            },
        }
    ],
    "job": {
        "title": "North wall",
        "status": "released",
        "severity": 2,
        "due": "2026-04-30",
        "skills": [],
        "weekdays": [0, 1, 2, 3, 4],
        "min_crew_size": 2,
        "permit_release": None,
        "blackouts": [],
        "releases": [],
    },
    "install": None,
    "readings": [],
    "reminders": [],
    "care_logs": [],
    "visit_requests": [],
}

EXAMPLES: Examples = {
    "POST /customers": {"branch": 3, **CUSTOMER},
    "POST /jobs/import": {"branch": 3, "document": JOB_DOCUMENT},
    "POST /customers/bulk": {
        "rows": [{"branch": 3, "reference": "C-1043", "name": "L. Birch"}],
    },
    "PATCH /customers/{id}": {"phone": "555-0102"},
    "POST /customers/{id}/grant-consent": {"channel": "email", "source": "paper form of 2 March"},
    "POST /customers/{id}/opt-out": {"channel": "email", "by": "telephone call"},
    "POST /sites": {
        "branch": 3,
        "customer": 21,
        **HOUSE,
    },
    "PATCH /sites/{id}": {"built_year": 1958},
    "POST /surveys": {
        "site": 8,
        "wall": "north wall",
        "measured_on": "2026-02-02",
        "document": SURVEY,
    },
    "POST /jobs": {
        "site": 8,
        "layouts": [5],
        "title": "Brace the north wall",
        "severity": 2,
        "due": "2026-04-01",
        "weekdays": [0, 1, 2, 3, 4],
    },
    "PATCH /jobs/{id}": {"severity": 3, "due": "2026-03-20"},
    "POST /jobs/{id}/release": {
        "engineer": "P. Marl",
        "licence": "PE 0100",
        "released_on": "2026-02-20",
        "note": "Seen on site; tighten to no more than 40 lbf ft.",
        "torque": {"value": 40, "unit": "lbf ft"},
    },
    "POST /jobs/{id}/block-days": {"first": "2026-03-09", "last": "2026-03-10"},
    "POST /jobs/{id}/change-layout": {"layout": 6},
    "POST /jobs/{id}/start-install": {"on": "2026-03-02"},
    "POST /jobs/{id}/ask-visit": {"reason": "something_wrong", "detail": "A bolt turns freely."},
    "POST /visit-requests/{id}/finish": {"is_done": True},
    "POST /install-records/{id}/close": {
        "installed_on": "2026-03-02",
        "checklist": {"clean_up": True, "hand_over": True},
        "left_with_homeowner": ["torque wrench", "instructions"],
        "signed_off_by": "M. Reyes",
        "no_zero_reading": "Shelves stand in front of the wall.",
    },
    "PATCH /brace-records/{id}": {
        "measured_height": "7'-9 9/16\"",
        "torque": {"value": 40, "unit": "lbf ft"},
        "tool": "click wrench 12",
        "anchors_set": 2,
        "is_sealed": True,
        "out_of_plumb": "1/16 in",
        "label_date": "2026-03-02",
    },
    "POST /reminders/{id}/resolve": {"was_sent": True},
    "POST /sites/bulk": {
        "rows": [
            {
                "branch": 3,
                "customer": 21,
                "label": "14 Alder Lane",
                "time_zone": "America/New_York",
            }
        ],
    },
    "POST /readings/bulk": {
        "rows": [
            {
                "site": 8,
                "wall": "north wall",
                "kind": "bow",
                "measured_on": "2026-07-01",
                "at": "5 ft",
                "height": "4 ft",
                "value": "1 1/16 in",
            }
        ],
    },
    "POST /readings": {
        "site": 8,
        "wall": "north wall",
        "readings": [
            {
                "kind": "bow",
                "measured_on": "2026-06-01",
                "at": "5 ft",
                "height": "4 ft",
                "value": "1 1/8 in",
                "resolution": "1/16 in",
            }
        ],
    },
    "POST /readings/{id}/settle": {"is_right": True},
    "POST /text-replies/{id}/handle": {"is_opt_out": False},
}
