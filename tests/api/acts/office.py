"""The company: branches, people, roles, tokens, webhooks, long calculations."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

from django.utils import timezone

from contractor.api import events
from contractor.api.models import Event, Membership, WebhookEndpoint
from contractor.api.webhooks import publishing
from tests.api.acts import Call, Chapter, World, shown

chapter = Chapter()
step = chapter.step
Steps = Generator[Call, Any, None]


@step("PATCH companies/{pk}")
def change_company(w: World) -> Steps:
    yield Call(shown("PATCH companies/{pk}"), w.branch.company_id)
    w.owner.patch(f"/api/v1/companies/{w.branch.company_id}", {"units": "us"}, HTTP_IF_MATCH="*")


@step("POST branches")
def open_branch(w: World) -> Steps:
    w["west"] = yield Call(shown("POST branches", company=w.branch.company_id))


@step("PATCH branches/{pk}")
def change_branch(w: World) -> Steps:
    yield Call(shown("PATCH branches/{pk}"), w.branch.pk)


@step("POST users")
def add_user(w: World) -> Steps:
    w["kim"] = yield Call(shown("POST users", branch=w.branch.pk))


@step("POST users/bulk")
def add_users(w: World) -> Steps:
    body = shown("POST users/bulk", rows_0_branch=w.branch.pk)
    answer = yield Call(body, own=frozenset({"branch"}))
    assert answer["stored"] == 1


@step("PATCH users/{pk}")
def change_user(w: World) -> Steps:
    yield Call(shown("PATCH users/{pk}"), w["kim"]["id"])


@step("POST memberships")
def give_role(w: World) -> Steps:
    body = shown("POST memberships", user=w["kim"]["id"], branch=w.branch.pk)
    w["role"] = yield Call(body, joins_branches=True)


@step("DELETE memberships/{pk}")
def take_role(w: World) -> Steps:
    yield Call(None, w["role"]["id"])
    assert not Membership.objects.filter(pk=w["role"]["id"]).exists()


@step("POST tokens")
def issue_token(w: World) -> Steps:
    w["token"] = yield Call(shown("POST tokens"))


@step("POST tokens/{pk}/rotate")
def rotate_token(w: World) -> Steps:
    w["next"] = yield Call(None, w["token"]["id"])


@step("POST tokens/{pk}/revoke")
def revoke_token(w: World) -> Steps:
    yield Call(None, w["next"]["id"])


@step("POST webhook-endpoints")
def add_endpoint(w: World) -> Steps:
    body = shown("POST webhook-endpoints", company=w.branch.company_id, branch=w.branch.pk)
    w["endpoint"] = yield Call(body)


@step("PATCH webhook-endpoints/{pk}")
def change_endpoint(w: World) -> Steps:
    yield Call(shown("PATCH webhook-endpoints/{pk}"), w["endpoint"]["id"])


@step("POST webhook-endpoints/{pk}/rotate-secret")
def rotate_secret(w: World) -> Steps:
    yield Call(None, w["endpoint"]["id"])


@step("POST webhook-endpoints/{pk}/pause")
def pause(w: World) -> Steps:
    yield Call(None, w["endpoint"]["id"])


@step("POST webhook-endpoints/{pk}/resume")
def resume(w: World) -> Steps:
    yield Call(None, w["endpoint"]["id"])


@step("POST webhook-endpoints/{pk}/ping")
def ping(w: World) -> Steps:
    """The delivery log is the trail of messages."""
    w["delivery"] = yield Call(None, w["endpoint"]["id"], trail="")


@step("POST webhook-deliveries/{pk}/resend")
def resend(w: World) -> Steps:
    yield Call(None, w["delivery"]["id"], trail="")


@step("POST webhook-endpoints/{pk}/replay")
def replay(w: World) -> Steps:
    events.record("job.installed", w.branch, branch=w.branch)
    publishing.publish(at=timezone.now())
    yield Call(shown("POST webhook-endpoints/{pk}/replay"), w["endpoint"]["id"], trail="")
    assert Event.objects.exists()


@step("DELETE webhook-endpoints/{pk}")
def delete_endpoint(w: World) -> Steps:
    yield Call(None, w["endpoint"]["id"])
    assert not WebhookEndpoint.objects.exists()


@step("POST calculation-runs/{pk}/cancel")
def cancel_run(w: World) -> Steps:
    """A run holds no data of the account and is gone after a day: no trail."""
    body = shown("POST calculations/cutting-plan")
    run = w.owner.post("/api/v1/calculations/cutting-plan", body, HTTP_PREFER="respond-async")
    yield Call(None, run.json()["id"], trail="")
