"""A homeowner's data: given out, erased on request, gone in time; the work stays."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from PIL import Image

from contractor.api.models import AuditEntry
from contractor.errors import WrongStateError
from jobs.models import Customer, HomeownerLink, Job, Photo, Reading, Reminder
from jobs.services import customers, homeowner, links, photos, privacy, readings, replies
from tests.conftest import ApiTester
from tests.jobs.conftest import NOON
from tests.jobs.test_readings import MOVING, add

pytestmark = pytest.mark.django_db(transaction=True)
SECRETS = ("R. Alder", "alder@example.org", "555-0101", "12 Alder Lane", "the dog", "by the sofa")


@pytest.fixture
def known(installed: Job, settings: Any, tmp_path: Path) -> Job:
    """A job whose homeowner has left traces in every table."""
    settings.MEDIA_ROOT = tmp_path
    customer = installed.site.customer
    installed.site.address = "12 Alder Lane, Millbrook"
    installed.site.save()
    customers.grant_consent(customer.pk, channel="text", source="R. Alder, phone", at=NOON)
    replies.receive("555-0101", "beware of the dog", reply_id="r1", at=NOON)
    homeowner.log_care(installed.pk, outcome="done", note="the dog was in", at=NOON)
    readings.ask_for_visit(installed.pk, reason="asked", detail="by the sofa", on=NOON.date())
    links.make_link(installed.pk, at=NOON)
    add(installed, MOVING)
    out = BytesIO()
    Image.new("RGB", (40, 30)).save(out, "JPEG")
    out.seek(0)
    picture = photos.read_picture(out, 1000, "America/New_York")
    photos.add_photo(installed.install.pk, picture=picture, source="homeowner")
    return installed


def test_everything_held_is_given_out(known: Job) -> None:
    found = json.dumps(privacy.personal_data(known.site.customer_id), default=str)
    for secret in SECRETS:
        assert secret in found
    [site] = privacy.personal_data(known.site.customer_id)["sites"]
    assert len(site["readings"]) == len(MOVING)
    [job] = site["jobs"]
    assert (len(job["photos"]), len(job["care_logs"])) == (1, 1)


def everything() -> str:
    """Return all columns of all rows that this app and the audit trail keep."""
    from django.apps import apps

    models: list[Any] = [*apps.get_app_config("jobs").get_models(), AuditEntry]
    rows = [str(row) for model in models for row in model.objects.values()]
    return "\n".join(rows)


def test_erased_person_is_nowhere_and_the_work_stays(known: Job, tmp_path: Path) -> None:
    before = everything()
    assert all(secret in before for secret in SECRETS)
    files = list(tmp_path.rglob("*.jpg"))
    assert len(files) == 2
    privacy.erase_person(known.site.customer_id, at=timezone.now())
    after = everything()
    assert [secret for secret in SECRETS if secret in after] == []
    assert not any(path.exists() for path in files)
    assert Photo.objects.count() == 0
    assert Reading.objects.count() == len(MOVING)
    assert known.install.braces.get(mark="B1").torque_lbf_ft == 50
    assert not Reminder.objects.filter(status="due").exists()
    assert not HomeownerLink.objects.filter(revoked_at__isnull=True).exists()


def test_nobody_is_erased_while_the_crew_is_on_its_way(job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(status=Job.Status.PLANNED)
    with pytest.raises(WrongStateError):
        privacy.erase_person(job.site.customer_id, at=NOON)
    assert Customer.objects.get().name == "R. Alder"


def test_owner_alone_may_over_http(owner: ApiTester, office: ApiTester, known: Job) -> None:
    path = f"/api/v1/customers/{known.site.customer_id}"
    assert office.get(f"{path}/personal-data").status_code == 403
    assert owner.get(f"{path}/personal-data").json()["customer"]["name"] == "R. Alder"
    etag = owner.get(path)["ETag"]
    assert office.act(f"{path}/erase", etag).status_code == 403
    answer = owner.act(f"{path}/erase", etag)
    assert (answer.status_code, answer.json()["name"]) == (200, "erased")
    assert Customer.objects.get().email == ""


def test_retention_is_the_companys_choice(known: Job) -> None:
    company = known.branch.company
    Job.objects.filter(pk=known.pk).update(
        status=Job.Status.CLOSED, updated_at=datetime(2026, 5, 1, tzinfo=UTC)
    )
    late = datetime(2036, 5, 2, tzinfo=UTC)
    assert privacy.keep_retention(at=late) == 0  # nobody has chosen
    company.settings = {"retention": {"months_after_close": 120}}
    company.save()
    assert privacy.keep_retention(at=datetime(2036, 4, 30, tzinfo=UTC)) == 0
    assert privacy.keep_retention(at=late) == 1
    assert privacy.keep_retention(at=late) == 0
    assert Customer.objects.get().name == "erased"


def test_old_links_and_texts_go_everywhere(known: Job) -> None:
    assert HomeownerLink.objects.count() == 1
    privacy.keep_retention(at=NOON + links.VALID_FOR + timedelta(days=364))
    assert (HomeownerLink.objects.count(), known.site.customer.replies.count()) == (1, 1)
    privacy.keep_retention(at=NOON + timedelta(days=740))
    assert (HomeownerLink.objects.count(), known.site.customer.replies.count()) == (0, 0)


def test_bounce_that_quotes_the_address_is_kept_without_it(known: Job) -> None:
    replies.delivery_failed("email", "alder@example.org", why="550 <alder@example.org> unknown")
    consent = known.site.customer.consents.get(channel="email")
    assert consent.stopped_why == "550 <<e-mail>> unknown"
