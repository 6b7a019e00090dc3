"""A homeowner, a site, a surveyed wall with a layout of two braces, a job."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest

from contractor.api.models import Branch
from jobs.models import BraceLayout, Consent, Customer, InstallRecord, Job, Site, Survey
from jobs.services import customers, installs, jobs

NOON = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)  # noon in New York
LAYOUT: dict[str, Any] = {
    "braces": [
        {"mark": "B1", "beam_length": "7'-9\""},
        {"mark": "B2", "beam_length": "7'-9 1/4\""},
    ],
    "no_answer": None,
}
SCREENING: dict[str, Any] = {
    "outcome": "within screening limits",
    "torque": {"allowed": {"value": 50, "unit": "lbf ft"}},
    "fixings": {"base_anchors": {"count": 2}},
}


@pytest.fixture
def customer(branch: Branch) -> Customer:
    return Customer.objects.create(
        branch=branch, name="R. Alder", email="alder@example.org", phone="555-0101"
    )


@pytest.fixture
def site(customer: Customer) -> Site:
    return Site.objects.create(
        branch=customer.branch,
        customer=customer,
        label="12 Alder Lane",
        time_zone="America/New_York",
        latitude=42.0,
        longitude=-74.0,
    )


@pytest.fixture
def make_layout(site: Site) -> Callable[..., BraceLayout]:
    """Return a function: ``make_layout("north wall", outcome=...)``."""

    def make(
        wall: str = "north wall", outcome: str = BraceLayout.Outcome.WITHIN, **columns: Any
    ) -> BraceLayout:
        revision = site.surveys.filter(wall=wall).count() + 1
        survey = Survey.objects.create(
            branch=site.branch,
            site=site,
            wall=wall,
            revision=revision,
            measured_on=date(2026, 2, 1),
            document={"slab": {"edge_gap": None}},
        )
        values = {
            "layout": LAYOUT,
            "screening": SCREENING,
            "bill": {"lines": []},
            "brace_count": 2,
            "labour_minutes": 600,
            "weight_lb": 140.0,
            "cost_cents": 90_000,
            **columns,
        }
        return BraceLayout.objects.create(
            branch=site.branch,
            survey=survey,
            outcome=outcome,
            input_hash=f"{revision:064d}",
            **values,
        )

    return make


@pytest.fixture
def job(site: Site, make_layout: Callable[..., BraceLayout]) -> Job:
    return jobs.open_job(
        site_pk=site.pk,
        title="Brace the north wall",
        layout_pks=[make_layout().pk],
        severity=2,
        due=date(2026, 4, 1),
    )


@pytest.fixture
def install(job: Job) -> InstallRecord:
    """The crew is on site; nothing is recorded yet."""
    Job.objects.filter(pk=job.pk).update(status=Job.Status.PLANNED)
    return installs.start_install(job.pk, on=date(2026, 3, 2))


@pytest.fixture
def installed(install: InstallRecord, customer: Customer) -> Job:
    """Both braces stand, the homeowner agreed to e-mail."""
    customers.grant_consent(customer.pk, channel="email", source="paper form", at=NOON)
    for brace in install.braces.order_by("pk"):
        installs.record_brace(brace.pk, at=NOON, **brace_values(brace.planned_height_ticks))
    installs.close_install(
        install.pk,
        installed_on=date(2026, 3, 2),
        checklist={"clean_up": True, "hand_over": True},
        left_with_homeowner=["torque wrench", "instructions"],
        signed_off_by="M. Reyes",
    )
    return Job.objects.get(pk=install.job_id)


def brace_values(height_ticks: int, **other: Any) -> dict[str, Any]:
    return {
        "measured_height_ticks": height_ticks,
        "torque_lbf_ft": 50.0,
        "tool": "click wrench 12",
        "anchors_set": 2,
        "out_of_plumb_ticks": 0,
        "label_date": date(2026, 3, 2),
        **other,
    }


def email_consent(customer: Customer) -> Consent:
    return customer.consents.get(channel="email", revoked_at__isnull=True)
