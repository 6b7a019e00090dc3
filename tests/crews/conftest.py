"""A branch with two crews and two jobs whose material is reserved."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from contractor.api.models import Branch
from contractor.crews.models import Certificate, Crew, Member, Vehicle
from jobs.models import Customer, Job, Site

MONDAY = date(2026, 3, 2)
FRIDAY = date(2026, 3, 13)


@pytest.fixture
def yard(branch: Branch) -> Branch:
    branch.latitude, branch.longitude = 42.0, -74.0
    branch.save()
    return branch


@pytest.fixture
def make_crew(yard: Branch) -> Callable[..., Crew]:
    """Return a function: ``make_crew("Crew A", people=2, skills=["lead_safe"])``."""

    def make(
        name: str, people: int = 2, skills: tuple[str, ...] = (), until: date | None = None
    ) -> Crew:
        van = Vehicle.objects.create(branch=yard, name=f"van of {name}", payload_lb=3000.0)
        crew = Crew.objects.create(branch=yard, name=name, vehicle=van)
        for number in range(people):
            member = Member.objects.create(branch=yard, crew=crew, name=f"{name} {number}")
            for skill in skills:
                Certificate.objects.create(
                    branch=yard,
                    member=member,
                    skill=skill,
                    valid_from=date(2025, 1, 1),
                    valid_to=until,
                )
        return crew

    return make


@pytest.fixture
def make_job(yard: Branch) -> Callable[..., Job]:
    """Return a function: ``make_job(0.1, labour_minutes=600)``, so many degrees north."""

    def make(north: float = 0.1, **columns: object) -> Job:
        customer = Customer.objects.create(branch=yard, name="R. Alder")
        site = Site.objects.create(
            branch=yard,
            customer=customer,
            label="12 Alder Lane",
            time_zone="America/New_York",
            latitude=42.0 + north,
            longitude=-74.0,
        )
        values = {
            "title": "Brace it",
            "status": Job.Status.RESERVED,
            "due": FRIDAY,
            "labour_minutes": 600,
            "weight_lb": 400.0,
            "brace_count": 4,
            **columns,
        }
        return Job.objects.create(branch=yard, site=site, **values)

    return make
