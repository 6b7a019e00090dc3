"""What happened and who did it: events by position, the trail before and after."""

from __future__ import annotations

from typing import Any

from contractor.api import audit, events, inserting
from contractor.api.actor import acting_as
from contractor.api.models import AuditEntry, Branch, Event, User, WebhookDelivery
from contractor.api.webhooks import delivering, sender
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester


def test_events_come_by_position_and_only_ones_own(
    clients: dict[str, ApiTester],
    branch: Branch,
    other_branch: Branch,
    foreign_branch: Branch,
) -> None:
    for at in (branch, other_branch, foreign_branch, branch):
        events.record("branch.changed", at, branch=at, place=at.pk)
    events.record("company.changed", branch.company, branch=None, company=branch.company)
    page = clients["crew"].get("/api/v1/events").json()
    assert [(row["position"], row["kind"]) for row in page["results"]] == [
        (1, "branch.changed"),
        (4, "branch.changed"),
        (5, "company.changed"),
    ]
    later = clients["crew"].get("/api/v1/events?after=4").json()["results"]
    assert [row["position"] for row in later] == [5]
    assert clients["crew"].get("/api/v1/events?kind=kit.cut").json()["results"] == []


def test_an_event_is_written_as_the_model_says(vendor: str, branch: Branch) -> None:
    """One statement of our own, the same row as ``save`` of the framework makes."""
    data: dict[str, Any] = {
        "place": branch.pk,
        "days": ["2026-03-02", None],
        "text": "5 1/2 in, \u00e9, 100 %, %s, 'q', \\",
    }
    mine = events.new_event("branch.changed", branch, branch=branch, **data)
    inserting.send([inserting.insertion(mine)])
    fields = [field.attname for field in Event._meta.concrete_fields if field.attname != "id"]
    theirs = Event.objects.create(**{name: getattr(mine, name) for name in fields})
    rows = Event.objects.order_by("pk")
    assert len(rows) == 2 and rows[1] == theirs
    for name in fields:
        assert getattr(rows[0], name) == getattr(rows[1], name) == getattr(mine, name)


def test_a_change_leaves_who_what_before_and_after(
    owner: ApiTester, branch: Branch, users: dict[str, User]
) -> None:
    token = owner.get("/api/v1/me").json()["token"]
    url = f"/api/v1/branches/{branch.pk}"
    owner.change(url, owner.get(url)["ETag"], {"name": "Northern"})
    entry = AuditEntry.objects.filter(subject=f"branch:{branch.pk}").latest("pk")
    assert entry.actor == f"token:{token}"
    assert (entry.what, entry.subject_version) == ("changed", 2)
    assert (entry.before, entry.after) == ({"name": "North"}, {"name": "Northern"})
    listed = owner.get(f"/api/v1/audit?subject=branch:{branch.pk}").json()["results"]
    assert listed[0]["after"] == {"name": "Northern"}


def test_a_save_that_changes_nothing_leaves_no_entry(branch: Branch) -> None:
    row = Branch.objects.get(pk=branch.pk)
    before = AuditEntry.objects.count()
    row.save()
    assert AuditEntry.objects.count() == before


def test_a_deletion_keeps_what_was_there(branch: Branch) -> None:
    row = Branch.objects.get(pk=branch.pk)
    key = row.pk
    with acting_as("user:7"):
        row.delete()
    entry = AuditEntry.objects.filter(subject=f"branch:{key}").latest("pk")
    assert (entry.what, entry.actor) == ("deleted", "user:7")
    assert entry.before["name"] == "North"


def test_erasure_reaches_the_trail(branch: Branch) -> None:
    row = Branch.objects.get(pk=branch.pk)
    row.name = "Pat's place"
    row.save()
    assert audit.redact(f"branch:{branch.pk}", ["name"]) == 2
    assert "Pat" not in str(list(AuditEntry.objects.values()))


def test_the_trail_is_for_owners(clients: dict[str, ApiTester]) -> None:
    assert_problem(clients["office"].get("/api/v1/audit"), 403, "role_missing")


def test_webhooks_through_the_api(
    clients: dict[str, ApiTester], branch: Branch, settings: Any
) -> None:
    settings.WEBHOOK_ALLOWED_HOSTS = ["hooks.example.org"]
    client = clients["integration"]
    body = {
        "company": branch.company_id,
        "branch": branch.pk,
        "url": "https://hooks.example.org/in",
        "kinds": ["branch.*"],
    }
    made = client.post("/api/v1/webhook-endpoints", body)
    assert made.status_code == 201, made.content
    url = f"/api/v1/webhook-endpoints/{made.json()['id']}"
    assert made.json()["secret"].startswith("whsec_")
    assert "secret" not in client.get(url).json()
    rotated = client.act(f"{url}/rotate-secret", made["ETag"])
    assert rotated.json()["secret"] != made.json()["secret"]
    assert client.post(f"{url}/ping").status_code == 202
    events.record("branch.changed", branch, branch=branch)
    client.get("/api/v1/events")  # publishes what has not been published
    sent: list[str] = []

    def send(to: str, content: bytes, headers: dict[str, str]) -> sender.Answer:
        sent.append(headers["webhook-id"])
        return sender.Answer("ok", 200)

    assert delivering.deliver(made.json()["id"], send=send) == 2
    log = client.get(f"/api/v1/webhook-deliveries?endpoint={made.json()['id']}").json()["results"]
    assert {row["kind"] for row in log} == {"ping", "branch.changed"}
    assert all(row["log"][0]["outcome"] == "ok" for row in log)
    assert client.post(f"{url}/replay", {"after": 0}).json() == {"queued": 1}
    resent = client.post(f"/api/v1/webhook-deliveries/{log[0]['id']}/resend")
    assert (resent.status_code, resent.json()["status"]) == (202, "pending")
    paused = client.act(f"{url}/pause", client.get(url)["ETag"])
    assert paused.json()["status"] == "paused"
    assert client.act(f"{url}/resume", paused["ETag"]).json()["status"] == "active"
    assert client.delete(url, HTTP_IF_MATCH=client.get(url)["ETag"]).status_code == 204
    assert not WebhookDelivery.objects.exists()


def test_a_company_wide_endpoint_needs_a_role_at_every_branch(
    clients: dict[str, ApiTester], branch: Branch, other_branch: Branch
) -> None:
    body = {"company": branch.company_id, "url": "https://hooks.example.org/in"}
    refused = clients["integration"].post("/api/v1/webhook-endpoints", body)
    assert_problem(refused, 403, "role_missing")


def test_an_inner_address_is_refused_with_its_field(owner: ApiTester, branch: Branch) -> None:
    body = {
        "company": branch.company_id,
        "branch": branch.pk,
        "url": "https://169.254.169.254/latest",
        "kinds": ["Job Made"],
    }
    document = assert_problem(owner.post("/api/v1/webhook-endpoints", body), 400, "invalid_input")
    found = {entry["pointer"]: entry["code"] for entry in document["errors"]}
    assert found == {"#/url": "webhook_url_refused", "#/kinds": "unknown_kind"}
