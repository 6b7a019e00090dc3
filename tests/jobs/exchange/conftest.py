"""A job that was built, told whole; and an empty branch of another company to take it to."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from contractor.api.models import Branch, User
from inventory.services.catalogue import load_catalogue
from jobs.models import BraceLayout, Customer, Job, Site, Survey
from jobs.services import customers, installs, jobs, readings, surveys
from tests.conftest import ApiTester

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
NOON = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
INSTALLED_ON = date(2026, 3, 2)


def survey_document(name: str = "perpendicular-16") -> dict[str, Any]:
    document: dict[str, Any] = json.loads((FIXTURES / "surveys" / f"{name}.json").read_text())
    return document


def stock_catalogue(branch: Branch) -> None:
    load_catalogue(json.loads((FIXTURES / "parts.json").read_text()), company_pk=branch.company_id)


@pytest.fixture
def layout(branch: Branch) -> BraceLayout:
    stock_catalogue(branch)
    customer = Customer.objects.create(
        branch=branch, reference="C-7", name="R. Alder", email="alder@example.org", phone="555-0101"
    )
    site = Site.objects.create(
        branch=branch,
        customer=customer,
        label="12 Alder Lane",
        time_zone="America/New_York",
        latitude=42.0,
        longitude=-74.0,
    )
    survey = surveys.add_survey(
        site_pk=site.pk,
        wall="north wall",
        document=survey_document(),
        measured_on=date(2026, 2, 1),
    )
    return surveys.lay_out(survey.pk)


@pytest.fixture
def opened(layout: BraceLayout) -> Job:
    survey: Survey = layout.survey
    return jobs.open_job(
        site_pk=survey.site_id,
        title="Brace the north wall",
        layout_pks=[layout.pk],
        severity=2,
        due=date(2026, 4, 1),
        skills=["lead_safe"],
    )


def build(job: Job) -> Job:
    """Install every brace of a job, close the record, and measure once after it."""
    Job.objects.filter(pk=job.pk).update(status=Job.Status.PLANNED)
    install = installs.start_install(job.pk, on=INSTALLED_ON)
    customer = job.site.customer
    customers.grant_consent(customer.pk, channel="email", source="paper form", at=NOON)
    for brace in install.braces.order_by("pk"):
        installs.record_brace(
            brace.pk,
            at=NOON,
            measured_height_ticks=brace.planned_height_ticks + 3,
            torque_lbf_ft=brace.torque_limit_lbf_ft,
            tool="click wrench 12",
            anchors_set=brace.anchors_wanted,
            is_sealed=True,
            out_of_plumb_ticks=4,
            label_date=INSTALLED_ON,
        )
    installs.close_install(
        install.pk,
        installed_on=INSTALLED_ON,
        checklist={"clean_up": True, "hand_over": True},
        left_with_homeowner=["torque wrench"],
        signed_off_by="M. Reyes",
        no_zero_reading="shelves in front of the wall",
    )
    for month in (4, 5, 6):
        row = {
            "kind": "bow",
            "at_ticks": 64 * 60,
            "height_ticks": 64 * 48,
            "value_ticks": 70 - month,
            "measured_on": date(2026, month, 1),
        }
        readings.add_readings(site_pk=job.site_id, wall="north wall", rows=[row], source="office")
    return Job.objects.get(pk=job.pk)


@pytest.fixture
def built(opened: Job) -> Job:
    return build(opened)


@pytest.fixture
def target(foreign_branch: Branch) -> Branch:
    """An empty branch of another company that has the same catalogue."""
    stock_catalogue(foreign_branch)
    return foreign_branch


@pytest.fixture
def target_office(
    target: Branch, make_user: Callable[..., User], client_for: Callable[..., ApiTester]
) -> ApiTester:
    return client_for(make_user("office", target))
