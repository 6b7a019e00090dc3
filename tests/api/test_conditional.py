"""RFC 9110 sections 8.8.3, 13.1.1, 13.1.2 and RFC 6585 section 3: ETag, 304, 412, 428."""

from __future__ import annotations

import pytest

from contractor.api.models import Branch
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester


@pytest.fixture
def url(branch: Branch) -> str:
    return f"/api/v1/branches/{branch.pk}"


def test_tag_is_strong_and_names_the_version(owner: ApiTester, url: str, branch: Branch) -> None:
    assert owner.get(url)["ETag"] == f'"branch-{branch.pk}-v1"'


def test_change_without_if_match_is_428(owner: ApiTester, url: str) -> None:
    assert_problem(owner.patch(url, {"name": "New"}), 428, "precondition_required")


def test_change_moves_the_tag_and_the_old_one_is_stale(
    owner: ApiTester, url: str, branch: Branch
) -> None:
    tag = owner.get(url)["ETag"]
    changed = owner.change(url, tag, {"name": "New"})
    assert changed.status_code == 200
    assert changed["ETag"] == f'"branch-{branch.pk}-v2"'
    stale = assert_problem(owner.change(url, tag, {"name": "Newer"}), 412, "stale_version")
    assert stale["current_version"] == 2
    branch.refresh_from_db()
    assert branch.name == "New"


@pytest.mark.parametrize(
    ("header", "status"),
    [
        ("*", 200),
        ('"{tag}"', 200),
        ('"other", "{tag}"', 200),
        ('W/"{tag}"', 412),  # a weak tag never matches If-Match
        ("{tag}", 412),
        ('"other"', 412),
        ("", 412),
    ],
)
def test_if_match_uses_strong_comparison(
    owner: ApiTester, url: str, branch: Branch, header: str, status: int
) -> None:
    tag = header.format(tag=f"branch-{branch.pk}-v1")
    assert owner.change(url, tag, {"name": "New"}).status_code == status


@pytest.mark.parametrize("form", ["{}", "W/{}", "*", '"other", {}'])
def test_if_none_match_uses_weak_comparison(owner: ApiTester, url: str, form: str) -> None:
    tag = owner.get(url)["ETag"]
    response = owner.get(url, HTTP_IF_NONE_MATCH=form.format(tag))
    assert response.status_code == 304
    assert response["ETag"] == tag
    assert response.content == b""


def test_another_tag_gets_the_document(owner: ApiTester, url: str) -> None:
    assert owner.get(url, HTTP_IF_NONE_MATCH='"other"').status_code == 200


def test_authorization_is_decided_before_the_precondition(
    clients: dict[str, ApiTester], url: str, foreign_branch: Branch
) -> None:
    refused = clients["crew"].patch(url, {"name": "x"})
    assert_problem(refused, 403, "role_missing")
    hidden = clients["owner"].patch(f"/api/v1/branches/{foreign_branch.pk}", {"name": "x"})
    assert_problem(hidden, 404, "not_found")
