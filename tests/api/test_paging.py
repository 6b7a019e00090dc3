"""Cursor paging, RFC 8288 Link headers: no row twice, none skipped, while rows are added."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone

from contractor.api.models import Branch, Membership, User
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester

URL = "/api/v1/branches"


@pytest.fixture
def many(users: dict[str, User], branch: Branch) -> list[Branch]:
    """25 branches, all created in the same instant: only the key can tell them apart."""
    at = timezone.now()
    made = [Branch(company=branch.company, name=f"b{i:02}") for i in range(24)]
    made = Branch.objects.bulk_create(made)
    Branch.objects.update(created_at=at)
    owner = users["owner"]
    Membership.objects.bulk_create(Membership(user=owner, branch=b, role="owner") for b in made)
    return [branch, *made]


def walk(client: ApiTester, url: str, rel: str = "next") -> list[list[str]]:
    pages = []
    following: str | None = url
    while following:
        answer = client.get(following)
        pages.append([row["name"] for row in answer.json()["results"]])
        links = {
            name: to for to, name in re.findall(r'<(.+?)>; rel="(\w+)"', answer.get("Link", ""))
        }
        key = "next" if rel == "next" else "previous"
        following = answer.json()[key]
        assert links.get(rel) == following
    return pages


@pytest.mark.parametrize("ordering", ["-created_at", "created_at", "name", "-name"])
def test_every_row_comes_once_forwards_and_backwards(
    owner: ApiTester, many: list[Branch], ordering: str
) -> None:
    pages = walk(owner, f"{URL}?limit=7&ordering={ordering}")
    assert [len(page) for page in pages] == [7, 7, 7, 4]
    names = [name for page in pages for name in page]
    assert sorted(names) == sorted(row.name for row in many)
    if "name" in ordering:
        assert names == sorted(names, reverse=ordering.startswith("-"))
    last = owner.get(f"{URL}?limit=7&ordering={ordering}")
    while last.json()["next"]:
        last = owner.get(last.json()["next"])
    back = walk(owner, last.json()["previous"], "prev")
    assert [name for page in reversed(back) for name in page] == names[:21]


def test_rows_added_meanwhile_neither_repeat_nor_hide_any(
    owner: ApiTester, many: list[Branch], users: dict[str, User]
) -> None:
    first = owner.get(f"{URL}?limit=10").json()
    added = Branch.objects.create(company=many[0].company, name="later")
    Membership.objects.create(user=users["owner"], branch=added, role="owner")
    seen = [row["id"] for row in first["results"]]
    following = first["next"]
    while following:
        page = owner.get(following).json()
        seen += [row["id"] for row in page["results"]]
        following = page["next"]
    assert sorted(seen) == sorted(row.pk for row in many)


def test_count_comes_on_request_only(owner: ApiTester, many: list[Branch]) -> None:
    assert "count" not in owner.get(URL).json()
    assert owner.get(f"{URL}?count=true").json()["count"] == 25


@pytest.mark.parametrize("limit", ["0", "201", "-1", "x", "١", "1e2", ""])
def test_limit_out_of_range(owner: ApiTester, limit: str) -> None:
    assert_problem(owner.get(f"{URL}?limit={limit}"), 400, "invalid_parameter")


@pytest.mark.parametrize(
    "cursor", ["x", "AAAA", "WzAsIngiLDFd", "WzIsMSwxXQ", "bnVsbA", "W1swXSwxLDFd", "é"]
)
def test_a_cursor_of_ones_own_making_is_400(owner: ApiTester, cursor: str) -> None:
    assert_problem(owner.get(f"{URL}?cursor={cursor}"), 400, "invalid_cursor")


def test_ordering_by_a_field_not_offered(owner: ApiTester) -> None:
    assert_problem(owner.get(f"{URL}?ordering=company"), 400, "invalid_parameter")


def test_a_filter_does_not_tell_which_rows_others_have(
    owner: ApiTester, branch: Branch, foreign_branch: Branch
) -> None:
    url = "/api/v1/memberships?branch="
    assert owner.get(f"{url}{branch.pk}").json()["results"]
    answers = [owner.get(f"{url}{key}") for key in (foreign_branch.pk, 999_999)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert [answer.json()["results"] for answer in answers] == [[], []]
