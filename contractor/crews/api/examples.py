"""Bodies that the reference shows for this app; a test sends every one of them."""

from __future__ import annotations

from contractor.api.examples import Examples

CALENDAR = """BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//example.org//calendar//EN
BEGIN:VEVENT
UID:1@example.org
DTSTAMP:20260301T000000Z
DTSTART;VALUE=DATE:20260311
DTEND;VALUE=DATE:20260312
SUMMARY:Dentist
END:VEVENT
END:VCALENDAR
""".replace("\n", "\r\n")

EXAMPLES: Examples = {
    "POST /vehicles": {"branch": 3, "name": "Van 1", "payload": {"value": 3000, "unit": "lb"}},
    "PATCH /vehicles/{id}": {"name": "Van 1, with rack"},
    "POST /crews": {"branch": 3, "name": "Crew Ash", "vehicle": 2, "pace": 1.0},
    "PATCH /crews/{id}": {"pace": 1.1},
    "POST /crews/{id}/calendar-feed": {"shows_addresses": False},
    "POST /members": {"branch": 3, "crew": 4, "name": "T. Okafor"},
    "PATCH /members/{id}": {"is_active": True, "name": "T. A. Okafor"},
    "POST /members/{id}/import-busy": {
        "calendar": "private",
        "text": CALENDAR,
        "first": "2026-03-01",
        "last": "2026-03-31",
    },
    "POST /certificates": {
        "member": 9,
        "skill": "lead_safe",
        "valid_from": "2026-01-01",
        "valid_to": "2030-12-31",
    },
    "PATCH /certificates/{id}": {"valid_to": "2031-12-31"},
    "POST /holidays": {
        "branch": 3,
        "day": "2026-07-03",
        "name": "Day before",
        "is_confirmed": True,
    },
    "POST /holidays/propose": {"branch": 3, "year": 2027, "subdivision": "NY"},
    "PATCH /holidays/{id}": {"is_confirmed": False},
    "POST /absences": {
        "member": 9,
        "first": "2026-03-05",
        "last": "2026-03-06",
        "reason": "training",
    },
    "PATCH /absences/{id}": {"last": "2026-03-07"},
    "POST /crew-plans": {
        "branch": 3,
        "first_day": "2026-03-02",
        "last_day": "2026-03-29",
        "seconds": 2,
        "cause": "first plan",
    },
    "POST /calendar-feeds": {"crew": 4, "shows_addresses": False},
    "POST /pins": {
        "job": 17,
        "crew": 4,
        "date": "2026-03-09",
        "half": "am",
        "reason": "asked for by the homeowner",
    },
    "POST /service-windows": {
        "request": 6,
        "day": "2026-03-05",
        "opens": "08:00",
        "closes": "11:30",
    },
    "POST /service-plans": {
        "branch": 3,
        "first_day": "2026-03-02",
        "last_day": "2026-03-15",
        "seconds": 2,
    },
}
