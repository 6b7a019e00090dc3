"""The crew's phone page over plain HTTP: what a browser without script sends."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from PIL import Image

from contractor.api.models import Branch, User
from jobs.models import BraceRecord, InstallRecord, Job, Photo

pytestmark = pytest.mark.django_db(transaction=True)
SMALL_STEPS = {"step-clean_up": "yes", "step-hand_over": "yes", "signed": "M. Reyes"}


@pytest.fixture
def crew(users: dict[str, User]) -> Client:
    client = Client()
    client.force_login(users["crew"], backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture(autouse=True)
def _own_folder(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def key_of(page: Any) -> str:
    found = re.search(r'name="key" value="([^"]+)"', page.content.decode())
    assert found is not None
    return found[1]


def brace_form(brace: BraceRecord, **other: str) -> dict[str, str]:
    return {
        "height": "7'-9 1/8\"",
        "torque": "50",
        "tool": "click wrench 12",
        "anchors": "2",
        "plumb": '0"',
        "label": "2026-03-02",
        "key": f"key-of-{brace.mark}-form",
        **other,
    }


def save(crew: Client, brace: BraceRecord, **other: str) -> Any:
    return crew.post(f"/crew/braces/{brace.pk}", brace_form(brace, **other))


def jpeg(**options: Any) -> BytesIO:
    out = BytesIO()
    Image.new("RGB", (400, 200), "gray").save(out, "JPEG", **options)
    out.seek(0)
    out.name = "wall.jpg"
    return out


def test_planned_job_is_started_once(crew: Client, job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(status=Job.Status.PLANNED)
    page = crew.get("/crew")
    assert b"12 Alder Lane" in page.content
    for _ in range(2):
        answer = crew.post(f"/crew/jobs/{job.pk}/start", {"key": key_of(page)})
        assert (answer.status_code, answer["Location"]) == (303, f"/crew/jobs/{job.pk}")
    assert InstallRecord.objects.count() == 1
    assert b"Before you start" in crew.get(f"/crew/jobs/{job.pk}").content


def test_brace_saves_by_itself_and_once(crew: Client, install: InstallRecord) -> None:
    brace = install.braces.order_by("pk")[0]
    assert save(crew, brace).status_code == 303
    brace.refresh_from_db()
    assert (brace.measured_height_ticks, brace.torque_lbf_ft, brace.anchors_set) == (5960, 50.0, 2)
    version = brace.version
    assert save(crew, brace, torque="40").status_code == 303  # the same form once more
    brace.refresh_from_db()
    assert (brace.version, brace.torque_lbf_ft) == (version, 50.0)


def test_torque_above_limit_is_refused_beside_the_input(
    crew: Client, install: InstallRecord
) -> None:
    brace = install.braces.order_by("pk")[0]
    answer = save(crew, brace, torque="55", tool="wrench 7")
    text = answer.content.decode()
    assert answer.status_code == 400
    assert 'href="#in-torque"' in text
    assert 'id="err-torque"' in text
    assert 'value="wrench 7"' in text  # what was typed stays
    brace.refresh_from_db()
    assert brace.recorded_at is None


def test_height_that_does_not_fit_the_cut_beam(crew: Client, install: InstallRecord) -> None:
    brace = install.braces.order_by("pk")[0]
    answer = save(crew, brace, height="7 ft")
    assert answer.status_code == 400
    assert b"differs by more than the bracket takes up" in answer.content


def test_skipped_step_needs_its_reason(crew: Client, install: InstallRecord) -> None:
    brace = install.braces.order_by("pk")[0]
    save(crew, brace, torque="", **{"skip-tighten": "wrench broke, second visit on Friday"})
    brace.refresh_from_db()
    assert brace.skipped == {"tighten": "wrench broke, second visit on Friday"}
    assert b">complete<" in crew.get(f"/crew/jobs/{install.job_id}").content


def test_record_closes_when_complete(crew: Client, install: InstallRecord) -> None:
    address = f"/crew/jobs/{install.job_id}/close"
    InstallRecord.objects.filter(pk=install.pk).update(started_on=date(2026, 3, 2))
    early = crew.post(address, {**SMALL_STEPS, "key": "closing-form"})
    assert early.status_code == 409
    assert b"Closing needs every brace" in early.content
    for brace in install.braces.all():
        save(crew, brace)
    answer = crew.post(address, {**SMALL_STEPS, "left-wrench": "yes", "key": "closing-form"})
    assert answer.status_code == 303
    install.refresh_from_db()
    assert (install.status, install.signed_off_by) == ("closed", "M. Reyes")
    assert install.left_with_homeowner == ["torque wrench"]
    assert b"signed off by M. Reyes" in crew.get(f"/crew/jobs/{install.job_id}").content


def test_photo_loses_its_place_and_keeps_its_time(crew: Client, install: InstallRecord) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif.get_ifd(0x8769)[0x9003] = "2026:03:02 09:30:00"
    exif.get_ifd(0x8825)[2] = (42.0, 1.0, 2.0)
    brace = install.braces.get(mark="B1")
    data = {"key": "photo-form", "brace": brace.pk, "photo": jpeg(exif=exif)}
    answer = crew.post(f"/crew/jobs/{install.job_id}/photos", data)
    assert answer.status_code == 303
    photo = Photo.objects.get()
    assert photo.brace == brace
    assert photo.taken_at is not None
    assert photo.taken_at.isoformat() == "2026-03-02T14:30:00+00:00"  # 09:30 in New York
    shown: Any = crew.get(f"/crew/photos/{photo.pk}/full")
    assert shown["X-Content-Type-Options"] == "nosniff"
    kept = Image.open(BytesIO(b"".join(shown.streaming_content)))
    assert kept.size == (200, 400)
    assert not kept.getexif()


@pytest.mark.parametrize(
    "content", [b"%PDF-1.7 not a photo", b"GIF89a\x01\x00\x01\x00", b"\xff\xd8\xff\xe0 cut off"]
)
def test_what_is_no_photo_is_refused(crew: Client, install: InstallRecord, content: bytes) -> None:
    file = BytesIO(content)
    file.name = "wall.jpg"
    data = {"key": "photo-form", "photo": file}
    answer = crew.post(f"/crew/jobs/{install.job_id}/photos", data)
    assert answer.status_code == 400
    assert b"not a photo" in answer.content
    assert Photo.objects.count() == 0


def test_picture_with_too_many_pixels(crew: Client, install: InstallRecord) -> None:
    out = BytesIO()
    Image.new("1", (9000, 8000)).save(out, "PNG")
    out.seek(0)
    out.name = "wall.png"
    answer = crew.post(f"/crew/jobs/{install.job_id}/photos", {"key": "photo-form", "photo": out})
    assert answer.status_code == 400
    assert b"too many" in answer.content


def test_other_branch_is_not_there(
    install: InstallRecord, make_user: Callable[..., User], other_branch: Branch
) -> None:
    stranger = Client()
    stranger.force_login(
        make_user("crew", other_branch), backend="django.contrib.auth.backends.ModelBackend"
    )
    brace = install.braces.order_by("pk")[0]
    assert b"12 Alder Lane" not in stranger.get("/crew").content
    assert stranger.get(f"/crew/jobs/{install.job_id}").status_code == 404
    assert save(stranger, brace).status_code == 404
    brace.refresh_from_db()
    assert brace.recorded_at is None


def test_warehouse_and_strangers_stay_out(users: dict[str, User], install: InstallRecord) -> None:
    client = Client()
    assert client.get("/crew")["Location"].startswith("/login")
    client.force_login(users["warehouse"], backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(f"/crew/jobs/{install.job_id}").status_code == 403


def test_csrf_token_is_needed(users: dict[str, User], install: InstallRecord) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(users["crew"], backend="django.contrib.auth.backends.ModelBackend")
    brace = install.braces.order_by("pk")[0]
    assert save(client, brace).status_code == 403
    answer = client.post(f"/crew/jobs/{install.job_id}/photos", {"key": "k" * 9, "photo": jpeg()})
    assert answer.status_code == 403


def test_sign_in_says_the_same_for_unknown_names(users: dict[str, User]) -> None:
    user = users["crew"]
    user.set_password("a long pass phrase")
    user.save()
    known = Client().post("/login", {"username": user.username, "password": "wrong"})
    unknown = Client().post("/login", {"username": "nobody-here", "password": "wrong"})

    def bare(page: Any, name: str) -> str:
        text = re.sub(r'(csrfmiddlewaretoken" value=)"[^"]+"', r"\1", page.content.decode())
        return text.replace(name, "")

    assert (known.status_code, unknown.status_code) == (200, 200)
    assert bare(known, user.username) == bare(unknown, "nobody-here")
    good = Client().post("/login", {"username": user.username, "password": "a long pass phrase"})
    assert (good.status_code, good["Location"]) == (302, "/crew")


def test_sign_in_is_locked_after_five_tries(users: dict[str, User]) -> None:
    form = {"username": users["crew"].username, "password": "wrong"}
    assert [Client().post("/login", form).status_code for _ in range(6)][-1] == 429
