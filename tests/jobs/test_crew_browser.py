"""The crew's pages in Chromium at 360 px: axe on every state, the whole record without script."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from contractor.api.models import User
from jobs.models import InstallRecord, Job, Photo, Survey
from tests.jobs import looking
from tests.jobs.test_zero_readings import READINGS

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser,
]


# In the order of the form.
VALUES = {
    "height": "7'-9\"",
    "torque": "50",
    "tool": "wrench 7",
    "anchors": "2",
    "plumb": "1/16 in",
}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with looking.browser() as running:
        yield running


@pytest.fixture
def phone(
    chromium: Any,
    live_server: Any,
    users: dict[str, User],
    settings: Any,
    tmp_path: Path,
    request: pytest.FixtureRequest,
) -> Iterator[Any]:
    """A page signed in as one of the crew; its parameter says whether script may run."""
    settings.MEDIA_ROOT = tmp_path
    user = users["crew"]
    user.set_password("a long pass phrase")
    user.save()
    context = chromium.new_context(
        java_script_enabled=getattr(request, "param", True),
        viewport=looking.PHONE,
        base_url=live_server.url,
    )
    page = context.new_page()
    page.has_script = getattr(request, "param", True)
    page.set_default_timeout(looking.PATIENCE_MS)
    page.goto("/crew")
    checked(page, "crew-sign-in")
    page.fill("#id_username", user.username)
    page.fill("#id_password", "wrong")
    page.click("main button")
    checked(page, "crew-sign-in-refused")
    page.fill("#id_password", "a long pass phrase")
    page.click("main button")
    yield page
    context.close()


def checked(page: Any, name: str) -> None:
    """Look at a state; axe needs script itself, so the run without script only walks."""
    if page.has_script:
        looking.checked(page, name)


@pytest.mark.parametrize("phone", [True, False], indirect=True, ids=["script", "no-script"])
def test_whole_record_at_360_pixels(phone: Any, job: Job, tmp_path: Path) -> None:
    Job.objects.filter(pk=job.pk).update(status=Job.Status.PLANNED)
    phone.goto("/crew")
    checked(phone, "crew-jobs")
    phone.click("text=We are on site")
    checked(phone, "crew-record-new")
    _record(phone, "B1", torque="60")
    checked(phone, "crew-brace-refused")
    assert phone.input_value("#in-tool") == "wrench 7"
    phone.fill("#in-torque", "50")
    phone.click("text=Save B1")
    checked(phone, "crew-record-half")
    _record(phone, "B2", torque="50")
    _send_photo(phone, tmp_path)
    _sign_off(phone)
    assert InstallRecord.objects.get().status == "closed"


def _record(phone: Any, mark: str, *, torque: str) -> None:
    phone.click(f"text=Record {mark}")
    checked(phone, f"crew-brace-{mark}")
    for name, value in {**VALUES, "torque": torque}.items():
        phone.fill(f"#in-{name}", value)
    phone.click(f"text=Save {mark}")


def _send_photo(phone: Any, folder: Path) -> None:
    phone.click("text=Send the photo")
    checked(phone, "crew-photo-refused")
    file = folder / "wall.png"
    Image.new("RGB", (300, 200), "gray").save(file)
    phone.set_input_files("#in-photo", str(file))
    phone.click("text=Send the photo")
    assert Photo.objects.count() == 1
    checked(phone, "crew-record-photo")


def _sign_off(phone: Any) -> None:
    phone.click("text=Close the record")
    checked(phone, "crew-close-refused")
    for name in ("step-clean_up", "step-hand_over", "left-wrench"):
        phone.check(f"#in-{name}")
    phone.fill("#in-signed", "M. Reyes")
    phone.click("text=Close the record")
    checked(phone, "crew-closed")
    phone.click("text=See B1")
    checked(phone, "crew-brace-closed")


def test_stranger_is_told_and_empty_list_says_so(
    phone: Any, users: dict[str, User], chromium: Any
) -> None:
    checked(phone, "crew-empty")
    users["crew"].memberships.update(role="warehouse")
    phone.goto("/crew")
    checked(phone, "crew-not-for-you")


@pytest.mark.parametrize("phone", [True, False], indirect=True, ids=["script", "no-script"])
def test_zero_reading_at_360_pixels(phone: Any, install: InstallRecord) -> None:
    Survey.objects.update(document={"slab": {"edge_gap": None}, "distress": {"readings": READINGS}})
    phone.goto(f"/crew/jobs/{install.job_id}")
    checked(phone, "crew-record-marks")
    phone.click("text=Close the record")
    checked(phone, "crew-close-without-reading")
    phone.click("a.button >> text=Measure the wall")
    checked(phone, "crew-readings")
    phone.fill("#in-spot-0", "3/4")
    phone.click("text=Save the readings")
    checked(phone, "crew-readings-refused")
    for name in ("#in-spot-0", "#in-spot-1"):
        phone.fill(name, '3/4"')
    phone.click("text=Save the readings")
    checked(phone, "crew-readings-saved")
    phone.click("a.button >> text=Measure the wall")
    checked(phone, "crew-readings-complete")
    assert install.job.site.readings.filter(source="crew").count() == 2


def test_crew_pages_at_a_desk(phone: Any, install: InstallRecord) -> None:
    phone.set_viewport_size(looking.DESK)
    brace = install.braces.order_by("pk")[0]
    for name, address in (
        ("crew-wide-jobs", "/crew"),
        ("crew-wide-record", f"/crew/jobs/{install.job_id}"),
        ("crew-wide-brace", f"/crew/braces/{brace.pk}"),
    ):
        phone.goto(address)
        checked(phone, name)


def test_keyboard_alone_records_a_brace(phone: Any, install: InstallRecord) -> None:
    phone.goto(f"/crew/jobs/{install.job_id}")
    looking.tab_to(phone, "document.activeElement.textContent.trim() === 'Record B1'")
    phone.keyboard.press("Enter")
    phone.wait_for_selector("#in-height")
    for name, value in {**VALUES, "torque": "50"}.items():
        looking.tab_to(phone, f"document.activeElement.name === '{name}'")
        phone.keyboard.type(value)
    looking.tab_to(phone, "document.activeElement.textContent.trim() === 'Save B1'")
    phone.keyboard.press("Enter")
    phone.wait_for_selector("text=B1 is saved")
    assert install.braces.get(mark="B1").torque_lbf_ft == 50
