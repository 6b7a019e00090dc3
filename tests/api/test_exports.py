"""Every list that an office takes away: its own rows, filtered as asked, a piece at a time."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
from openpyxl import load_workbook

from contractor.api import exporting
from contractor.api.models import Branch, User
from jobs.models import Customer
from tests.api.operations import Operation, operations
from tests.api.rows import Rows
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester

EXPORTS = [op for op in operations() if op.action == "export" and op.method == "get"]
WANTED = {
    *("jobs", "customers", "sites", "readings", "reminders", "visit-requests", "install-records"),
    *("parts", "supplier-prices", "supplier-orders", "receipts", "ledger", "kits", "offcuts"),
    *("stock-levels", "stock-lengths", "counts", "visits", "service-visits", "members", "audit"),
}


def test_what_an_office_needs_can_be_exported() -> None:
    assert {op.path.split("/")[3] for op in EXPORTS} >= WANTED


def test_who_may_list_may_export() -> None:
    wrong = [str(op) for op in EXPORTS if op.view.access["list"] != op.roles]
    assert wrong == []


def rows_of(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode())))


def model_of(op: Operation) -> Any:
    return op.fresh_view().queryset.model


def test_an_export_shows_ones_own_rows_only(
    branch: Branch,
    other_branch: Branch,
    foreign_branch: Branch,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
    settings: Any,
) -> None:
    settings.RATE_LIMIT = "1000000/60"
    client = client_for(make_user("owner", branch))
    own, *strange = [Rows(at) for at in (branch, other_branch, foreign_branch)]
    wrong: list[Any] = []
    for op in EXPORTS:
        model = model_of(op)
        mine, (other, foreign) = own.of(model).pk, (at.of(model).pk for at in strange)
        hidden = {foreign} if op.has_shared_rows else {other, foreign}
        answer = client.get(op.path)
        shown = {int(row["id"]) for row in rows_of(answer.getvalue())}
        is_lacking = mine not in shown and not op.is_self_scoped
        if answer.status_code != 200 or shown & hidden or is_lacking:
            wrong.append((str(op), answer.status_code, shown))
        sheet = load_workbook(io.BytesIO(client.get(f"{op.path}?as=xlsx").getvalue())).active
        assert sheet is not None
        head, *lines = sheet.iter_rows(values_only=True)
        if {line[head.index("id")] for line in lines} != shown:
            wrong.append((str(op), "xlsx differs"))
    assert wrong == []


def test_an_export_comes_a_piece_at_a_time(
    office: ApiTester,
    branch: Branch,
    monkeypatch: pytest.MonkeyPatch,
    django_assert_max_num_queries: Any,
) -> None:
    Customer.objects.bulk_create(Customer(branch=branch, name=f"n{n}") for n in range(25))
    monkeypatch.setattr(exporting, "ROWS_AT_ONCE", 10)
    answer: Any = office.get("/api/v1/customers/export")
    assert answer.streaming
    with django_assert_max_num_queries(8):  # three pages of rows and consents, and the end
        pieces = list(answer.streaming_content)
    assert len(pieces) == 3
    assert [row["name"] for row in rows_of(b"".join(pieces))] == [f"n{n}" for n in range(25)]


def test_the_filters_of_the_list_hold(office: ApiTester, branch: Branch) -> None:
    Customer.objects.create(branch=branch, name="Ann", language="en")
    Customer.objects.create(branch=branch, name="Eva", language="es")
    (row,) = rows_of(office.get("/api/v1/customers/export?language=es").getvalue())
    assert row["name"] == "Eva"
    refused = office.get("/api/v1/customers/export?language=xx")
    assert_problem(refused, 400, "invalid_input")
    assert_problem(office.get("/api/v1/customers/export?limit=5"), 400, "unknown_parameter")
    assert_problem(office.get("/api/v1/customers?as=csv"), 400, "unknown_parameter")


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_more_than_a_file_should_hold_is_refused(
    office: ApiTester, branch: Branch, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    monkeypatch.setitem(exporting.MAX_ROWS, kind, 2)
    for name in ("a", "b"):
        Customer.objects.create(branch=branch, name=name)
    assert office.get(f"/api/v1/customers/export?as={kind}").status_code == 200
    Customer.objects.create(branch=branch, name="c")
    answer = assert_problem(
        office.get(f"/api/v1/customers/export?as={kind}"), 422, "export_too_large"
    )
    assert answer["remedy"]


def test_quantities_are_in_the_units_asked_for(office: ApiTester, branch: Branch) -> None:
    body = {"company": branch.company_id, "code": "W8", "description": "x", "kind": "bar"}
    assert office.post("/api/v1/parts", {**body, "kerf": "1/8 in"}).status_code == 201
    (row,) = rows_of(office.get("/api/v1/parts/export?units=si").getvalue())
    assert (row["kerf"], row["kerf_unit"]) == ("3.175", "mm")
