"""The office edits policies; what makes no sense is refused when it is saved."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from contractor.api.models import Company
from jobs.models import Job
from jobs.services import followup, links
from tests.conftest import ApiTester

pytestmark = pytest.mark.django_db(transaction=True)
POLICY = {"schema": "follow-up-policy/1", "month_offsets": [1, 2], "seasons": [], "end_months": 3}


def save(owner: ApiTester, company: Company, settings: dict[str, Any]) -> Any:
    path = f"/api/v1/companies/{company.pk}"
    return owner.change(path, owner.get(path)["ETag"], {"settings": settings})


def test_policy_of_the_company_dates_its_reminders(owner: ApiTester, installed: Job) -> None:
    assert save(owner, installed.branch.company, {"follow_up_policy": POLICY}).status_code == 200
    job = Job.objects.get(pk=installed.pk)
    job.reminders.all().delete()
    followup.date_reminders(job, date(2026, 8, 31))
    days = [one.due_on.isoformat() for one in job.reminders.order_by("due_on")]
    assert days == ["2026-09-30", "2026-10-31", "2026-11-30"]


@pytest.mark.parametrize(
    ("parts", "pointer"),
    [
        ({"follow_up_policy": {**POLICY, "end_months": 0}}, "follow_up_policy/end_months"),
        ({"follow_up_policy": {**POLICY, "every": 3}}, "follow_up_policy/every"),
        ({"tightening": {"turn": "3/4"}}, "tightening/turn"),
        ({"tightening": {"step_lbf_ft": 0}}, "tightening"),
        ({"sending": {"windows": {"OH": {"opens": "nine"}}}}, "sending"),
        ({"retention": {"months_after_close": 0}}, "retention/months_after_close"),
        ({"rates": {"schema": "company-rates/9"}}, "rates/schema"),
        ({"hardware": {"shape": 5}}, "hardware/shape"),
        ({"layout_rules": {"spacing_max": "1 mile"}}, "layout_rules/spacing_max"),
        ({"layout_rules": {"spacing_widest": "5 ft"}}, "layout_rules/spacing_widest"),
        ({"phone": 5550101}, "settings/phone"),
        ({"cutting": {"replan_extra_percent": 50}}, "cutting/replan_extra_percent"),
        ({"cutting": {"extra": 1}}, "cutting/extra"),
    ],
)
def test_nonsense_is_refused_with_its_place(
    owner: ApiTester, company: Company, parts: dict[str, Any], pointer: str
) -> None:
    answer = save(owner, company, parts)
    assert answer.status_code in {400, 422}
    assert any(pointer in fault["pointer"] for fault in answer.json()["errors"]), answer.json()
    company.refresh_from_db()
    assert company.settings == {}


def test_step_of_the_company_is_what_the_page_says(owner: ApiTester, installed: Job) -> None:
    assert save(owner, installed.branch.company, {"tightening": {"turn": "1/8"}}).status_code == 200
    job = Job.objects.get(pk=installed.pk)
    assert followup.step_policy_of(job).turn == Fraction(1, 8)
    token = links.make_link(job.pk, at=timezone.now())
    assert "an eighth of a turn" in Client().get(f"/h/{token}").content.decode()
