"""People, vans and calendars; plans of crews and of service visits."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

from contractor.crews.models import ServiceVisit, Visit
from jobs.models import Customer, Job, Site
from tests.api.acts import Call, Chapter, World, shown

chapter = Chapter()
step = chapter.step
Steps = Generator[Call, Any, None]


def reserved_job(w: World, **columns: Any) -> Job:
    """A job whose material is reserved: how it came there is told in another chapter."""
    customer = Customer.objects.create(branch=w.branch, name="R. Alder")
    site = Site.objects.create(
        branch=w.branch,
        customer=customer,
        label="12 Alder Lane",
        time_zone="America/New_York",
        latitude=42.1,
        longitude=-74.0,
    )
    values = {
        "title": "Brace it",
        "status": "reserved",
        "due": "2026-03-20",
        "labour_minutes": 600,
        "weight_lb": 400.0,
        "brace_count": 4,
        **columns,
    }
    return Job.objects.create(branch=w.branch, site=site, **values)


@step("POST vehicles")
def add_vehicle(w: World) -> Steps:
    w.branch.latitude, w.branch.longitude = 42.0, -74.0
    w.branch.save()
    w["van"] = yield Call(shown("POST vehicles", branch=w.branch.pk))


@step("PATCH vehicles/{pk}")
def change_vehicle(w: World) -> Steps:
    yield Call(shown("PATCH vehicles/{pk}"), w["van"]["id"])


@step("DELETE vehicles/{pk}")
def delete_vehicle(w: World) -> Steps:
    yield Call(None, w.post("vehicles", shown("POST vehicles", branch=w.branch.pk))["id"])


@step("POST crews")
def add_crew(w: World) -> Steps:
    keys = {"branch": w.branch.pk, "vehicle": w["van"]["id"]}
    w["crew"] = yield Call(shown("POST crews", **keys))


@step("PATCH crews/{pk}")
def change_crew(w: World) -> Steps:
    yield Call(shown("PATCH crews/{pk}"), w["crew"]["id"])


@step("POST members")
def add_member(w: World) -> Steps:
    keys = {"branch": w.branch.pk, "crew": w["crew"]["id"]}
    w["member"] = yield Call(shown("POST members", **keys))
    w.post("members", {"branch": w.branch.pk, "crew": w["crew"]["id"], "name": "J. Lindqvist"})


@step("PATCH members/{pk}")
def change_member(w: World) -> Steps:
    yield Call(shown("PATCH members/{pk}"), w["member"]["id"])


@step("POST members/{pk}/import-busy")
def import_busy(w: World) -> Steps:
    answer = yield Call(shown("POST members/{pk}/import-busy"), w["member"]["id"])
    assert len(answer["absences"]) == 1


@step("POST certificates")
def add_certificate(w: World) -> Steps:
    w["card"] = yield Call(shown("POST certificates", member=w["member"]["id"]))


@step("PATCH certificates/{pk}")
def change_certificate(w: World) -> Steps:
    yield Call(shown("PATCH certificates/{pk}"), w["card"]["id"])


@step("DELETE certificates/{pk}")
def delete_certificate(w: World) -> Steps:
    yield Call(None, w["card"]["id"])


@step("POST holidays")
def add_holiday(w: World) -> Steps:
    w["holiday"] = yield Call(shown("POST holidays", branch=w.branch.pk))


@step("PATCH holidays/{pk}")
def change_holiday(w: World) -> Steps:
    yield Call(shown("PATCH holidays/{pk}"), w["holiday"]["id"])


@step("DELETE holidays/{pk}")
def delete_holiday(w: World) -> Steps:
    yield Call(None, w["holiday"]["id"])


@step("POST holidays/propose")
def propose_holidays(w: World) -> Steps:
    yield Call(shown("POST holidays/propose", branch=w.branch.pk))


@step("POST absences")
def add_absence(w: World) -> Steps:
    w["absence"] = yield Call(shown("POST absences", member=w["member"]["id"]))


@step("PATCH absences/{pk}")
def change_absence(w: World) -> Steps:
    yield Call(shown("PATCH absences/{pk}"), w["absence"]["id"])


@step("DELETE absences/{pk}")
def delete_absence(w: World) -> Steps:
    yield Call(None, w["absence"]["id"])


@step("POST crews/{pk}/calendar-feed")
def make_feed(w: World) -> Steps:
    yield Call(shown("POST crews/{pk}/calendar-feed"), w["crew"]["id"])


@step("POST crews/{pk}/revoke-feeds")
def revoke_feeds(w: World) -> Steps:
    yield Call(None, w["crew"]["id"])


@step("POST calendar-feeds")
def add_feed(w: World) -> Steps:
    w["feed"] = yield Call(shown("POST calendar-feeds", crew=w["crew"]["id"]))


@step("POST calendar-feeds/{pk}/revoke")
def revoke_feed(w: World) -> Steps:
    yield Call(None, w["feed"]["id"])


@step("POST pins")
def pin(w: World) -> Steps:
    w["job"] = reserved_job(w)
    w["pin"] = yield Call(shown("POST pins", job=w["job"].pk, crew=w["crew"]["id"]))


@step("DELETE pins/{pk}")
def take_pin_away(w: World) -> Steps:
    yield Call(None, w["pin"]["id"])


@step("POST crew-plans")
def ask_for_plan(w: World) -> Steps:
    body = shown("POST crew-plans", branch=w.branch.pk)
    w["unwanted"] = w.post("crew-plans", body)
    w["plan"] = yield Call(body)
    w.work()


@step("POST crew-plans/{pk}/discard")
def discard_plan(w: World) -> Steps:
    yield Call(None, w["unwanted"]["id"])


@step("POST crew-plans/{pk}/publish")
def publish_plan(w: World) -> Steps:
    yield Call(None, w["plan"]["id"])


@step("POST visits/{pk}/confirm")
def confirm_visit(w: World) -> Steps:
    w["visit"] = Visit.objects.get(job=w["job"]).pk
    yield Call(None, w["visit"])


@step("POST visits/{pk}/cancel")
def cancel_visit(w: World) -> Steps:
    yield Call(None, w["visit"])


@step("POST service-windows")
def offer_window(w: World) -> Steps:
    job = reserved_job(w, status="installed")
    w["request"] = w.post(f"jobs/{job.pk}/ask-visit", {"reason": "asked", "detail": ""})
    w["window"] = yield Call(shown("POST service-windows", request=w["request"]["id"]))


@step("DELETE service-windows/{pk}")
def delete_window(w: World) -> Steps:
    yield Call(None, w["window"]["id"])


@step("POST service-plans")
def ask_for_service_plan(w: World) -> Steps:
    body = shown("POST service-plans", branch=w.branch.pk)
    w["unwanted"] = w.post("service-plans", body)
    w["plan"] = yield Call(body)
    w.work()


@step("POST service-plans/{pk}/discard")
def discard_service_plan(w: World) -> Steps:
    yield Call(None, w["unwanted"]["id"])


@step("POST service-plans/{pk}/publish")
def publish_service_plan(w: World) -> Steps:
    yield Call(None, w["plan"]["id"])


@step("POST service-visits/{pk}/confirm")
def confirm_service_visit(w: World) -> Steps:
    w["visit"] = ServiceVisit.objects.get(request=w["request"]["id"]).pk
    yield Call(None, w["visit"])


@step("POST service-visits/{pk}/cancel")
def cancel_service_visit(w: World) -> Steps:
    yield Call(None, w["visit"])


@step("POST service-visits/{pk}/finish")
def finish_service_visit(w: World) -> Steps:
    plan = w.post("service-plans", shown("POST service-plans", branch=w.branch.pk))
    w.work()
    w.post(f"service-plans/{plan['id']}/publish")
    again = ServiceVisit.objects.exclude(pk=w["visit"]).get(request=w["request"]["id"])
    w.post(f"service-visits/{again.pk}/confirm")
    yield Call(None, again.pk)
