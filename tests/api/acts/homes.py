"""From a homeowner's call to the last reading."""

from __future__ import annotations

from collections.abc import Generator
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from contractor.api.examples import fixture
from inventory.services.catalogue import load_catalogue
from jobs.models import BraceLayout, Job, Reading, Reminder, TextReply, VisitRequest
from tests.api.acts import Call, Chapter, World, shown

chapter = Chapter()
step = chapter.step
Steps = Generator[Call, Any, None]


def file_of(text: str) -> dict[str, Any]:
    return {"file": SimpleUploadedFile("list.csv", text.encode())}


def to(w: World, job: dict[str, Any], status: str) -> dict[str, Any]:
    """Put a job into a state whose way there is the business of another chapter."""
    Job.objects.filter(pk=job["id"]).update(status=status)
    return job


def another_job(w: World) -> dict[str, Any]:
    body = shown("POST jobs", site=w["site"]["id"], layouts_0=w["layout"]["id"])
    made: dict[str, Any] = w.post("jobs", body)
    return made


@step("POST customers")
def add_customer(w: World) -> Steps:
    load_catalogue(fixture("parts.json"), company_pk=w.branch.company_id)
    w["customer"] = yield Call(shown("POST customers", branch=w.branch.pk))


@step("POST customers/bulk")
def add_customers(w: World) -> Steps:
    body = shown("POST customers/bulk", rows_0_branch=w.branch.pk)
    answer = yield Call(body, own=frozenset({"branch"}))
    assert answer["stored"] == 1, answer


@step("PATCH customers/{pk}")
def change_customer(w: World) -> Steps:
    yield Call(shown("PATCH customers/{pk}"), w["customer"]["id"])


@step("POST customers/import")
def import_customers(w: World) -> Steps:
    yield Call(file_of("reference,name\nC-1,Ann Fern\n"), multipart=True)


@step("POST customers/{pk}/grant-consent")
def grant_consent(w: World) -> Steps:
    yield Call(shown("POST customers/{pk}/grant-consent"), w["customer"]["id"])


@step("POST customers/{pk}/opt-out")
def opt_out(w: World) -> Steps:
    yield Call(shown("POST customers/{pk}/opt-out"), w["customer"]["id"])


@step("POST sites")
def add_site(w: World) -> Steps:
    keys = {"branch": w.branch.pk, "customer": w["customer"]["id"]}
    w["site"] = yield Call(shown("POST sites", **keys))


@step("POST sites/bulk")
def add_sites(w: World) -> Steps:
    keys = {"rows_0_branch": w.branch.pk, "rows_0_customer": w["customer"]["id"]}
    body = shown("POST sites/bulk", **keys)
    answer = yield Call(body, own=frozenset({"branch", "customer"}))
    assert answer["stored"] == 1, answer


@step("PATCH sites/{pk}")
def change_site(w: World) -> Steps:
    yield Call(shown("PATCH sites/{pk}"), w["site"]["id"])


@step("POST sites/import")
def import_sites(w: World) -> Steps:
    rows = "customer_reference,label,time_zone\nC-1,5 Fern Street,America/New_York\n"
    yield Call(file_of(rows), multipart=True)


@step("POST surveys")
def add_survey(w: World) -> Steps:
    w["survey"] = yield Call(shown("POST surveys", site=w["site"]["id"]))


@step("POST surveys/{pk}/lay-out")
def lay_out(w: World) -> Steps:
    w["layout"] = yield Call(None, w["survey"]["id"])


@step("POST jobs")
def open_job(w: World) -> Steps:
    body = shown("POST jobs", site=w["site"]["id"], layouts_0=w["layout"]["id"])
    w["job"] = yield Call(body)


@step("PATCH jobs/{pk}")
def change_job(w: World) -> Steps:
    yield Call(shown("PATCH jobs/{pk}"), w["job"]["id"])


@step("POST jobs/{pk}/release")
def release_job(w: World) -> Steps:
    to(w, w["job"], "in_review")
    yield Call(shown("POST jobs/{pk}/release"), w["job"]["id"])


@step("POST jobs/{pk}/block-days")
def block_days(w: World) -> Steps:
    yield Call(shown("POST jobs/{pk}/block-days"), w["job"]["id"])


@step("POST jobs/{pk}/change-layout")
def change_layout(w: World) -> Steps:
    kept = BraceLayout.objects.get(pk=w["layout"]["id"])
    kept.pk, kept.input_hash, kept._state.adding = None, "1" * 64, True
    kept.save()
    w["layout"] = {"id": kept.pk}
    yield Call(shown("POST jobs/{pk}/change-layout", layout=kept.pk), w["job"]["id"])


@step("POST jobs/{pk}/reserve")
def reserve_job(w: World) -> Steps:
    lines = []
    for part in w.get("parts?limit=200")["results"]:
        if part["kind"] != "bar":
            lines.append({"part": part["id"], "quantity": 500, "cents": 10_000})
        else:
            length = "20 ft" if part["role"] == "beam" else "8 ft"
            lines.append({"part": part["id"], "quantity": 20, "length": length, "cents": 90_000})
    for start in range(0, len(lines), 50):
        w.post("receipts", {"branch": w.branch.pk, "lines": lines[start : start + 50]})
    yield Call(None, w["job"]["id"])


@step("POST jobs/{pk}/release-material")
def release_material(w: World) -> Steps:
    yield Call(None, w["job"]["id"])


@step("POST jobs/{pk}/cancel")
def cancel_job(w: World) -> Steps:
    yield Call(None, another_job(w)["id"])


@step("POST jobs/{pk}/homeowner-link")
def homeowner_link(w: World) -> Steps:
    answer = yield Call(None, w["job"]["id"])
    assert "/h/" in answer["url"]


@step("POST jobs/{pk}/start-install")
def start_install(w: World) -> Steps:
    to(w, w["job"], "planned")
    w["install"] = yield Call(shown("POST jobs/{pk}/start-install"), w["job"]["id"])


@step("PATCH brace-records/{pk}")
def record_brace(w: World) -> Steps:
    first, *others = w["install"]["braces"]
    body = shown("PATCH brace-records/{pk}")
    height = {"measured_height": first["planned_height"]["text"]}
    assert body["measured_height"] == height["measured_height"], height
    yield Call(body, first["id"])
    for brace in others:
        path = f"/api/v1/brace-records/{brace['id']}"
        done = {**body, "measured_height": brace["planned_height"]["text"]}
        answer = w.owner.patch(path, done, HTTP_IF_MATCH="*")
        assert answer.json()["missing"] == [], answer.content


@step("POST install-records/{pk}/photos")
def add_photo(w: World) -> Steps:
    out = BytesIO()
    Image.new("RGB", (40, 30), "grey").save(out, "JPEG")
    file = SimpleUploadedFile("wall.jpg", out.getvalue(), "image/jpeg")
    body = {"file": file, "brace": w["install"]["braces"][0]["id"]}
    answer = yield Call(body, w["install"]["id"], multipart=True)
    listed = w.get(f"install-records/{w['install']['id']}/photos")["results"]
    assert [one["id"] for one in listed] == [answer["id"]]


@step("POST install-records/{pk}/close")
def close_install(w: World) -> Steps:
    yield Call(shown("POST install-records/{pk}/close"), w["install"]["id"])


@step("POST reminders/{pk}/resolve")
def resolve_reminder(w: World) -> Steps:
    """Reminders are moved by machines; what a person decides is an event as well."""
    row = Reminder.objects.filter(job=w["job"]["id"]).order_by("due_on")[0]
    Reminder.objects.filter(pk=row.pk).update(status="unknown")
    yield Call(shown("POST reminders/{pk}/resolve"), row.pk, trail="events")


@step("POST readings")
def add_readings(w: World) -> Steps:
    w["readings"] = yield Call(shown("POST readings", site=w["site"]["id"]))


@step("POST readings/bulk")
def add_single_readings(w: World) -> Steps:
    body = shown("POST readings/bulk", rows_0_site=w["site"]["id"])
    answer = yield Call(body, own=frozenset({"site"}))
    assert answer["stored"] == 1, answer


@step("POST readings/{pk}/settle")
def settle_reading(w: World) -> Steps:
    key = w["readings"]["readings"][0]["id"]
    Reading.objects.filter(pk=key).update(doubt="more than 3 in away from the last reading")
    yield Call(shown("POST readings/{pk}/settle"), key)


@step("POST jobs/{pk}/ask-visit")
def ask_visit(w: World) -> Steps:
    w["request"] = yield Call(shown("POST jobs/{pk}/ask-visit"), w["job"]["id"])


@step("POST visit-requests/{pk}/finish")
def finish_request(w: World) -> Steps:
    yield Call(shown("POST visit-requests/{pk}/finish"), w["request"]["id"])
    assert VisitRequest.objects.get(pk=w["request"]["id"]).status == "done"


@step("POST text-replies/{pk}/handle")
def handle_reply(w: World) -> Steps:
    row = TextReply.objects.create(
        branch=w.branch,
        customer_id=w["customer"]["id"],
        reply_id="1",
        meaning="ask_office",
        text="Is Tuesday fine?",
        received_at=timezone.now(),
    )
    yield Call(shown("POST text-replies/{pk}/handle"), row.pk)


@step("POST jobs/{pk}/close")
def close_job(w: World) -> Steps:
    yield Call(None, w["job"]["id"])


@step("POST customers/{pk}/erase")
def erase(w: World) -> Steps:
    row = w.post("customers", {"branch": w.branch.pk, "name": "Ann Fern", "phone": "555-0103"})
    yield Call(None, row["id"])


@step("POST jobs/import")
def import_job(w: World) -> Steps:
    answer = yield Call(shown("POST jobs/import", branch=w.branch.pk))
    assert answer["fate"] == "created"
