"""RFC 9457, section 3: members, media type; every refusal under /api/ has that form."""

from __future__ import annotations

from typing import Any

import pytest

from contractor.api.models import Branch
from tests.conftest import ApiTester

MEMBERS = {"type", "title", "status", "detail", "instance", "code"}


def assert_problem(response: Any, status: int, code: str) -> dict[str, Any]:
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"
    document: dict[str, Any] = response.json()
    assert set(document) >= MEMBERS
    assert document["status"] == status
    assert document["code"] == code
    assert document["type"] == f"/api/v1/problems/{code}"
    return document


def test_unknown_address_is_a_problem(anonymous: ApiTester) -> None:
    assert_problem(anonymous.get("/api/v1/nowhere"), 404, "not_found")


def test_without_a_token_the_answer_says_how_to_sign_in(anonymous: ApiTester) -> None:
    response = anonymous.get("/api/v1/me")
    assert_problem(response, 401, "not_authenticated")
    assert response["WWW-Authenticate"] == 'Bearer realm="api"'


def test_wrong_token_is_401(anonymous: ApiTester) -> None:
    response = anonymous.get("/api/v1/me", HTTP_AUTHORIZATION="Bearer tl_wrong")
    assert_problem(response, 401, "not_authenticated")


def test_bad_host_is_a_problem(anonymous: ApiTester) -> None:
    response = anonymous.get("/api/v1/health", HTTP_HOST="evil.example")
    assert_problem(response, 400, "bad_request")


def test_method_not_offered_lists_the_offered_ones(owner: ApiTester) -> None:
    response = owner.put("/api/v1/companies", {})
    assert_problem(response, 405, "method_not_allowed")
    assert "GET" in response["Allow"]


def test_format_not_offered(owner: ApiTester) -> None:
    assert_problem(owner.get("/api/v1/me", HTTP_ACCEPT="text/csv"), 406, "not_acceptable")


def test_media_type_not_read(owner: ApiTester) -> None:
    response = owner.generic("POST", "/api/v1/branches", b"<a/>", content_type="text/xml")
    assert_problem(response, 415, "unsupported_media_type")


@pytest.mark.parametrize(
    "body",
    [
        b"{",
        b"[1,",
        b'{"a": NaN}',
        b'{"a": 1e999}',
        b'{"a": 123456789012345678901234567890}',
        b'{"a": "\\u0000"}',
        b'{"a": "\\ud800"}',
        b'{"a": 1, "a": 2}',
        b"[" * 100_000,
        b"[" * 70 + b"]" * 70,
        b"\xff\xfe",
    ],
)
def test_malformed_body_is_400_even_for_a_command_without_a_body(
    owner: ApiTester, body: bytes
) -> None:
    token = owner.get("/api/v1/tokens").json()["results"][0]["id"]
    response = owner.generic(
        "POST",
        f"/api/v1/tokens/{token}/revoke",
        body,
        content_type="application/json",
        HTTP_IF_MATCH="*",
    )
    document = assert_problem(response, 400, "malformed_body")
    assert "Traceback" not in document["detail"]


def test_body_over_two_megabytes_is_413(owner: ApiTester) -> None:
    body = b'{"name": "' + b"x" * (2 * 1024 * 1024) + b'"}'
    response = owner.generic("POST", "/api/v1/branches", body, content_type="application/json")
    assert_problem(response, 413, "payload_too_large")


def test_every_wrong_field_has_its_pointer(owner: ApiTester, branch: Branch) -> None:
    body = {"company": "x", "name": "", "time_zone": "Mars/Olympus", "latitude": 91}
    document = assert_problem(owner.post("/api/v1/branches", body), 400, "invalid_input")
    found = {entry["pointer"]: entry["code"] for entry in document["errors"]}
    assert found == {
        "#/company": "incorrect_type",
        "#/name": "blank",
        "#/time_zone": "unknown_time_zone",
        "#/latitude": "max_value",
    }
    assert Branch.objects.count() == 1


def test_unknown_and_read_only_members_are_refused(owner: ApiTester, branch: Branch) -> None:
    body = {"company": branch.company_id, "name": "West", "version": 9, "color": "red"}
    document = assert_problem(owner.post("/api/v1/branches", body), 400, "invalid_input")
    found = {entry["pointer"]: entry["code"] for entry in document["errors"]}
    assert found == {"#/version": "read_only", "#/color": "unknown_member"}
    assert Branch.objects.count() == 1


@pytest.mark.parametrize(
    ("path", "body", "pointer"),
    [
        ("branches", {"name": 7}, "#/name"),
        ("branches", {"latitude": "41.5"}, "#/latitude"),
        ("users", {"username": "pat", "role": 3}, "#/role"),
        ("tokens", {"name": "till", "scopes": [1]}, "#/scopes"),
        ("parts", {"pack_size": "12"}, "#/pack_size"),
        ("parts", {"pack_size": True}, "#/pack_size"),
        ("parts", {"is_active": "yes"}, "#/is_active"),
        ("parts", {"is_active": 1}, "#/is_active"),
    ],
)
def test_a_value_of_another_json_type_is_not_converted(
    owner: ApiTester, path: str, body: dict[str, Any], pointer: str
) -> None:
    """The reference says the type (OpenAPI 3.1, JSON Schema 2020-12 section 6.1.1)."""
    document = assert_problem(owner.post(f"/api/v1/{path}", body), 400, "invalid_input")
    found = {entry["pointer"]: entry["code"] for entry in document["errors"]}
    assert found[pointer] == "incorrect_type", found


def test_unknown_query_parameter_is_refused(owner: ApiTester) -> None:
    assert_problem(owner.get("/api/v1/branches?colour=red"), 400, "unknown_parameter")


def test_nul_in_the_query_is_refused(owner: ApiTester) -> None:
    assert_problem(owner.get("/api/v1/branches?cursor=%00"), 400, "bad_request")


def test_unhandled_failure_is_500_without_its_text(
    owner: ApiTester, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> None:
        raise RuntimeError("the password is swordfish")

    monkeypatch.setattr("contractor.api.endpoints.company.BranchesViewSet.list", fail)
    response = owner.get("/api/v1/branches")
    document = assert_problem(response, 500, "internal_error")
    assert "swordfish" not in response.content.decode()
    assert len(document["incident"]) == 12


def test_every_problem_type_is_listed_and_has_a_page(anonymous: ApiTester) -> None:
    listed = anonymous.get("/api/v1/problems").json()
    assert len(listed) >= 25
    for entry in listed:
        assert anonymous.get(entry["type"]).json() == entry
    assert_problem(anonymous.get("/api/v1/problems/no_such_code"), 404, "not_found")


@pytest.mark.parametrize(
    "query", ["count=yes", "limit=1&limit=2", "units=", "units=metric", "ordering="]
)
def test_query_values_that_cannot_be_used(owner: ApiTester, query: str) -> None:
    assert_problem(owner.get(f"/api/v1/branches?{query}"), 400, "invalid_parameter")


@pytest.mark.parametrize("query", ["events?after=0.5", "events?after=x", "crews?is_active=AAA"])
def test_filters_read_their_values_strictly(owner: ApiTester, query: str) -> None:
    assert_problem(owner.get(f"/api/v1/{query}"), 400, "invalid_parameter")
    assert owner.get("/api/v1/crews?is_active=true").status_code == 200
    assert owner.get("/api/v1/events?after=0").status_code == 200


def test_a_method_not_offered_is_405_whatever_the_query(owner: ApiTester) -> None:
    response = owner.generic("TRACE", "/api/v1/branches?colour=red")
    assert_problem(response, 405, "method_not_allowed")
