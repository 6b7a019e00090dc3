"""Small invented instances of ``install-sched/1``, made from a seed."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

Document = dict[str, Any]
MONDAY = date(2026, 3, 2)
SKILLS = ("lead_safe", "confined", "rigging")
WEIGHTS = {
    "tardy_half_day": 60,
    "sev": {"1": 1, "2": 2, "3": 4, "4": 8},
    "travel_min": 1,
    "weekend_split": 40,
    "crew_change": 100,
    "date_change": 500,
    "date_change_per_day": 50,
    "unscheduled": 1000,
}


def day(offset: int) -> str:
    """Return the ISO date ``offset`` days after the first Monday."""
    return (MONDAY + timedelta(days=offset)).isoformat()


def crew(name: str, **changes: Any) -> Document:
    return {
        "id": name,
        "branch": "B0",
        "size": 2,
        "pace": 1.0,
        "skills": {"lead_safe": day(60)},
        "payload_kg": 1500,
        "absences": [],
        **changes,
    }


def job(name: str, **changes: Any) -> Document:
    return {
        "id": name,
        "xy": [10.0, 0.0],
        "braces": 4,
        "labour_h": 6.0,
        "skills": [],
        "min_size": 2,
        "weight_kg": 300,
        "material_ready": day(0),
        "permit_release": day(0),
        "weekdays": [0, 1, 2, 3, 4],
        "blackout": [],
        "severity": 2,
        "due": day(4),
        "confirmed": None,
        **changes,
    }


def instance(crews: list[Document], jobs: list[Document], **changes: Any) -> Document:
    return {
        "schema": "install-sched/1",
        "today": day(0),
        "first_day": day(0),
        "last_day": day(18),
        "workdays_per_week": [0, 1, 2, 3, 4],
        "public_holidays": [],
        "hours_per_half_day": 4,
        "max_halfdays": 8,
        "max_drive_min": 90,
        "road_factor": 1.2,
        "speed_kmh": 60,
        "branches": [{"id": "B0", "xy": [0.0, 0.0]}],
        "crews": crews,
        "jobs": jobs,
        "weights": WEIGHTS,
        **changes,
    }


def random_instance(seed: int, crews: int = 2, jobs: int = 7) -> Document:
    """Return an instance in which most jobs can be done by some crew."""
    dice = random.Random(seed)
    return instance(
        [
            crew(
                f"C{number}",
                size=dice.choice([2, 2, 3]),
                pace=dice.choice([0.9, 1.0, 1.1]),
                skills={skill: day(dice.randint(4, 30)) for skill in dice.sample(SKILLS, 2)},
                absences=[_absence(dice)] if dice.random() < 0.5 else [],
            )
            for number in range(crews)
        ],
        [
            job(
                f"J{number}",
                xy=[dice.uniform(-30, 30), dice.uniform(-30, 30)],
                labour_h=dice.choice([4.0, 7.0, 11.0, 16.0]),
                skills=[dice.choice(SKILLS)] if dice.random() < 0.3 else [],
                material_ready=day(dice.choice([0, 0, 0, 2, 7])),
                permit_release=day(dice.choice([0, 0, 3])),
                blackout=[[day(3), day(4)]] if dice.random() < 0.2 else [],
                severity=dice.randint(1, 4),
                due=day(dice.randint(1, 14)),
            )
            for number in range(jobs)
        ],
        public_holidays=[day(9)] if dice.random() < 0.3 else [],
    )


def _absence(dice: random.Random) -> Document:
    first = dice.randint(0, 10)
    return {"first": day(first), "last": day(first + dice.randint(0, 2)), "half": None}
