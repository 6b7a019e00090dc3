"""Tokens, scopes, roles by branch: what is refused, hidden, or cut down."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from contractor.api.models import AuditEntry, Branch, Membership, Token, User
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester

ClientFor = Callable[..., ApiTester]


def token_of(client: ApiTester) -> dict[str, Any]:
    key = client.get("/api/v1/me").json()["token"]
    row: dict[str, Any] = client.get(f"/api/v1/tokens/{key}").json()
    return row


def test_only_a_hash_of_the_token_is_kept(owner: ApiTester) -> None:
    answer = owner.post("/api/v1/tokens", {"name": "saw", "scopes": ["inventory:read"]})
    assert answer.status_code == 201
    secret = answer.json()["secret"]
    assert secret.startswith("tl_")
    row = Token.objects.get(name="saw")
    assert secret not in str(vars(row))
    assert "secret" not in owner.get(f"/api/v1/tokens/{row.pk}").json()
    trail = AuditEntry.objects.get(subject=f"token:{row.pk}")
    assert row.digest not in str(trail.after)


def test_use_is_noted_without_moving_the_version(owner: ApiTester) -> None:
    owner.get("/api/v1/me")
    assert token_of(owner)["last_used_at"].endswith("Z")
    assert token_of(owner)["version"] == 1


@pytest.mark.parametrize("change", [{"expires_at": timedelta(seconds=-1)}, {"revoked_at": None}])
def test_expired_and_revoked_tokens_are_unknown(owner: ApiTester, change: dict[str, Any]) -> None:
    now = timezone.now()
    Token.objects.update(**{name: now + (step or timedelta()) for name, step in change.items()})
    assert_problem(owner.get("/api/v1/me"), 401, "not_authenticated")


def test_a_switched_off_account_is_out_at_once(owner: ApiTester, users: dict[str, User]) -> None:
    User.objects.filter(pk=users["owner"].pk).update(is_active=False)
    assert_problem(owner.get("/api/v1/me"), 401, "not_authenticated")


def test_rotation_overlaps_for_a_day(owner: ApiTester) -> None:
    old = token_of(owner)
    answer = owner.act(f"/api/v1/tokens/{old['id']}/rotate", f'"token-{old["id"]}-v1"')
    assert answer.status_code == 201, answer.content
    fresh = ApiTester()
    fresh.secret = answer.json()["secret"]
    assert fresh.get("/api/v1/me").status_code == 200
    assert owner.get("/api/v1/me").status_code == 200
    assert answer.json()["replaces"] == old["id"]
    row = Token.objects.get(pk=old["id"])
    assert row.expires_at <= timezone.now() + timedelta(hours=24)


def test_a_revoked_token_stops_at_once(owner: ApiTester) -> None:
    row = token_of(owner)
    owner.act(f"/api/v1/tokens/{row['id']}/revoke", "*")
    assert_problem(owner.get("/api/v1/me"), 401, "not_authenticated")


def test_scopes_bound_what_a_token_does(users: dict[str, User], client_for: ClientFor) -> None:
    reader = client_for(users["owner"], ["company:read", "tokens:write"])
    assert reader.get("/api/v1/branches").status_code == 200
    refused = reader.post("/api/v1/branches", {})
    assert assert_problem(refused, 403, "scope_missing")["scope"] == "company:write"
    assert_problem(reader.get("/api/v1/events"), 403, "scope_missing")
    wider = reader.post("/api/v1/tokens", {"name": "x", "scopes": ["company:write"]})
    assert_problem(wider, 403, "scope_missing")
    assert (
        reader.post("/api/v1/tokens", {"name": "x", "scopes": ["company:read"]}).status_code == 201
    )


def test_a_token_of_one_branch_sees_that_branch(
    users: dict[str, User], client_for: ClientFor, branch: Branch, other_branch: Branch
) -> None:
    Membership.objects.create(user=users["owner"], branch=other_branch, role="owner")
    bound = client_for(users["owner"], branch=branch)
    assert [row["id"] for row in bound.get("/api/v1/branches").json()["results"]] == [branch.pk]
    assert_problem(bound.get(f"/api/v1/branches/{other_branch.pk}"), 404, "not_found")
    wider = bound.post("/api/v1/tokens", {"name": "x", "scopes": ["*:read"]})
    assert_problem(wider, 403, "role_missing")


def test_tokens_for_machines_are_given_by_owners_only(
    clients: dict[str, ApiTester], users: dict[str, User]
) -> None:
    body = {"name": "x", "scopes": ["jobs:read"], "user": users["integration"].pk}
    assert clients["owner"].post("/api/v1/tokens", body).status_code == 201
    assert_problem(clients["office"].post("/api/v1/tokens", body), 403, "role_missing")


def test_an_owner_of_one_branch_has_no_power_over_people_with_roles_elsewhere(
    owner: ApiTester, users: dict[str, User], other_branch: Branch
) -> None:
    person = users["office"]
    Membership.objects.create(user=person, branch=other_branch, role="owner")
    body = {"name": "x", "scopes": ["*:write"], "user": person.pk}
    assert_problem(owner.post("/api/v1/tokens", body), 403, "role_missing")
    url = f"/api/v1/users/{person.pk}"
    changed = owner.change(url, owner.get(url)["ETag"], {"password": "correct horse battery"})
    assert_problem(changed, 403, "role_missing")


def test_a_person_of_another_company_does_not_exist(
    owner: ApiTester, foreign_branch: Branch, make_user: Callable[..., User], branch: Branch
) -> None:
    stranger = make_user("office", foreign_branch)
    body = {"user": stranger.pk, "branch": branch.pk, "role": "office"}
    document = assert_problem(owner.post("/api/v1/memberships", body), 400, "invalid_input")
    assert document["errors"][0]["pointer"] == "#/user"
    assert document["errors"][0]["code"] == "does_not_exist"
    elsewhere = {"user": stranger.pk, "branch": foreign_branch.pk, "role": "owner"}
    assert_problem(owner.post("/api/v1/memberships", elsewhere), 400, "invalid_input")


def test_a_branch_keeps_an_owner(owner: ApiTester, users: dict[str, User]) -> None:
    mine = Membership.objects.get(user=users["owner"])
    refused = owner.delete(f"/api/v1/memberships/{mine.pk}", HTTP_IF_MATCH="*")
    assert_problem(refused, 409, "last_owner")
    other = Membership.objects.get(user=users["crew"])
    url = f"/api/v1/memberships/{other.pk}"
    assert owner.delete(url, HTTP_IF_MATCH=owner.get(url)["ETag"]).status_code == 204


def test_passwords_are_hashed_and_weak_ones_refused(owner: ApiTester, branch: Branch) -> None:
    body = {"username": "sam", "branch": branch.pk, "role": "crew", "password": "password"}
    document = assert_problem(owner.post("/api/v1/users", body), 400, "invalid_input")
    assert {entry["pointer"] for entry in document["errors"]} == {"#/password"}
    answer = owner.post("/api/v1/users", {**body, "password": "plumb bob and chalk"})
    assert answer.status_code == 201
    assert "password" not in answer.json()
    sam = User.objects.get(username="sam")
    assert sam.check_password("plumb bob and chalk")
    trail = AuditEntry.objects.get(subject=f"user:{sam.pk}")
    assert trail.after["password"] == "(hidden)"


def test_a_session_needs_the_csrf_token(users: dict[str, User]) -> None:
    browser = ApiTester(enforce_csrf_checks=True, raise_request_exception=False)
    browser.force_login(users["owner"], backend="django.contrib.auth.backends.ModelBackend")
    assert browser.get("/api/v1/me").status_code == 200
    refused = browser.post("/api/v1/tokens", {"name": "x", "scopes": ["jobs:read"]})
    assert_problem(refused, 403, "forbidden")


def test_ones_own_scopes_roles_and_units(owner: ApiTester, branch: Branch) -> None:
    document = owner.get("/api/v1/me?units=si").json()
    assert document["units"] == "si"
    assert document["roles"] == [{"branch": branch.pk, "roles": ["owner"]}]
    assert document["scopes"] == ["*:read", "*:write"]
