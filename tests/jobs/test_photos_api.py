"""Photos over the API: what is kept, who sees it, what is refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from PIL import Image

from contractor.api.models import Branch, User
from jobs.models import BraceLayout, InstallRecord, Job, Photo
from jobs.services import installs, jobs, photos
from tests.conftest import ApiTester

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _own_folder(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def picture(side: int = 400, **options: Any) -> bytes:
    out = BytesIO()
    Image.new("RGB", (side, side // 2), "grey").save(out, "JPEG", **options)
    return out.getvalue()


def send(client: ApiTester, install: InstallRecord, content: bytes, **form: Any) -> Any:
    form = {"file": SimpleUploadedFile("wall.jpg", content), **form}
    return client.post(f"/api/v1/install-records/{install.pk}/photos", form, format="multipart")


def test_a_photo_loses_its_place_and_is_given_out(
    clients: dict[str, ApiTester], install: InstallRecord
) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2026:03:02 09:30:00"  # Exif 2.32: DateTimeOriginal
    exif.get_ifd(0x8825)[2] = (42.0, 1.0, 2.0)  # GPSLatitude
    crew, brace = clients["crew"], install.braces.get(mark="B1")
    answer = send(crew, install, picture(exif=exif), brace=brace.pk)
    assert answer.status_code == 201, answer.content
    told = answer.json()
    assert (told["brace"], told["install"]) == (brace.pk, install.pk)
    assert told["taken_at"] == "2026-03-02T14:30:00Z"  # 09:30 in New York
    listed = crew.get(f"/api/v1/install-records/{install.pk}/photos").json()
    assert listed["results"] == [told]
    for name, width in (("file", 400), ("thumbnail", 320)):
        shown: Any = crew.get(told[name])
        assert (shown["Content-Type"], shown["Cache-Control"]) == (
            "image/jpeg",
            "private, no-store",
        )
        kept = Image.open(BytesIO(b"".join(shown.streaming_content)))
        assert (kept.width, dict(kept.getexif())) == (width, {})


@pytest.mark.parametrize("content", [b"%PDF-1.7 not a photo", b"\xff\xd8\xff\xe0 cut off"])
def test_what_is_no_photo_is_refused(
    owner: ApiTester, install: InstallRecord, content: bytes
) -> None:
    answer = send(owner, install, content)
    assert (answer.status_code, answer.json()["code"]) == (400, "not_a_picture")
    assert Photo.objects.count() == 0


def test_a_file_that_is_too_large_is_refused(owner: ApiTester, install: InstallRecord) -> None:
    answer = send(owner, install, picture() + bytes(photos.MOST_BYTES))
    assert (answer.status_code, answer.json()["code"]) == (400, "not_a_picture")
    assert "10 MB" in answer.json()["detail"]
    assert Photo.objects.count() == 0


def test_a_brace_of_another_install_does_not_exist(
    owner: ApiTester, install: InstallRecord, make_layout: Callable[..., BraceLayout]
) -> None:
    south = jobs.open_job(
        site_pk=install.job.site_id,
        title="Brace the south wall",
        layout_pks=[make_layout("south wall").pk],
        severity=2,
        due=date(2026, 4, 1),
    )
    Job.objects.filter(pk=south.pk).update(status=Job.Status.PLANNED)
    other = installs.start_install(south.pk, on=date(2026, 3, 2)).braces.get(mark="B1")
    for wrong in (str(other.pk), str(other.pk + 999), "B1"):
        answer = send(owner, install, picture(), brace=wrong)
        assert answer.status_code == 400
        assert [e["pointer"] for e in answer.json()["errors"]] == ["#/brace"], wrong
    assert Photo.objects.count() == 0
    assert send(owner, install, picture(), brace="").json()["brace"] is None  # of the wall


def test_no_file_and_unknown_members_are_named(owner: ApiTester, install: InstallRecord) -> None:
    path = f"/api/v1/install-records/{install.pk}/photos"
    answer = owner.post(path, {"photo": "x"}, format="multipart")
    assert [e["pointer"] for e in answer.json()["errors"]] == ["#/photo"]
    answer = owner.post(path, {}, format="multipart")
    assert [e["pointer"] for e in answer.json()["errors"]] == ["#/file"]
    assert owner.post(path, {"file": "x"}).status_code == 415


def test_other_branches_and_other_trades_see_no_photo(
    clients: dict[str, ApiTester],
    install: InstallRecord,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
    other_branch: Branch,
) -> None:
    told = send(clients["crew"], install, picture()).json()
    stranger = client_for(make_user("owner", other_branch))
    listed = f"/api/v1/install-records/{install.pk}/photos"
    for path in (told["file"], told["thumbnail"], listed):
        assert stranger.get(path).status_code == 404
        assert clients["warehouse"].get(path).status_code == 403
    assert send(stranger, install, picture()).status_code == 404
    assert Photo.objects.count() == 1


def test_a_photo_whose_file_is_gone(owner: ApiTester, install: InstallRecord) -> None:
    told = send(owner, install, picture()).json()
    Photo.objects.get().file.delete(save=False)
    assert owner.get(told["file"]).status_code == 404


def test_the_list_pages(owner: ApiTester, install: InstallRecord) -> None:
    keys = [send(owner, install, picture(10)).json()["id"] for _ in range(3)]
    path: str | None = f"/api/v1/install-records/{install.pk}/photos?limit=2"
    seen: list[int] = []
    while path:
        page = owner.get(path).json()
        seen += [row["id"] for row in page["results"]]
        path = page["next"]
    assert seen == keys[::-1]


def test_pictures_are_decoded_outside_transactions(
    owner: ApiTester, install: InstallRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    inside, read = [], photos.read_picture

    def watched(*args: Any) -> photos.Picture:
        inside.append(connection.in_atomic_block)
        return read(*args)

    monkeypatch.setattr(photos, "read_picture", watched)
    assert send(owner, install, picture()).status_code == 201
    assert inside == [False]
