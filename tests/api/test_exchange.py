"""Sparse fields, expand, bulk creation with a dry run, export without formulas."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from openpyxl import load_workbook
from rest_framework import serializers

from contractor.api.exporting import columns_of, csv_chunks, harmless, row_of, xlsx_file
from contractor.api.fields import LengthField
from contractor.api.models import AuditEntry, Branch, RememberedAnswer, User
from inventory.models import Part, StockLevel, Supplier, SupplierPart
from jobs.models import Customer, Reading, Site, Survey
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester

BULK = "/api/v1/users/bulk"


def test_fields_cuts_the_document_down(owner: ApiTester, branch: Branch) -> None:
    url = f"/api/v1/branches/{branch.pk}"
    assert owner.get(f"{url}?fields=id,name").json() == {"id": branch.pk, "name": "North"}
    listed = owner.get("/api/v1/branches?fields=name").json()["results"]
    assert listed == [{"name": "North"}]
    refused = assert_problem(owner.get(f"{url}?fields=id,colour"), 400, "invalid_parameter")
    assert "colour" in refused["detail"]


def test_expand_shows_the_neighbour_one_level(
    owner: ApiTester, branch: Branch, django_assert_max_num_queries: Any
) -> None:
    with django_assert_max_num_queries(9):
        answer = owner.get("/api/v1/memberships?expand=branch,user&fields=id,branch,user")
    rows = answer.json()["results"]
    assert len(rows) == 6
    assert all(row["branch"]["name"] == "North" for row in rows)
    assert {"id", "branch", "user"} == set(rows[0])
    assert isinstance(rows[0]["branch"]["company"], int)
    assert_problem(owner.get("/api/v1/memberships?expand=role"), 400, "invalid_parameter")
    assert_problem(owner.get("/api/v1/branches?expand=company"), 400, "invalid_parameter")


def test_prices_and_places_show_their_part(owner: ApiTester, branch: Branch) -> None:
    part = Part.objects.create(company=branch.company, code="TAPE", description="Tape", kind="each")
    StockLevel.objects.create(branch=branch, part=part, on_hand=3)
    [place] = owner.get("/api/v1/stock-levels?expand=part,bin").json()["results"]
    assert (place["part"]["code"], place["bin"]) == ("TAPE", None)
    supplier = Supplier.objects.create(company=branch.company, name="Valley Steel")
    SupplierPart.objects.create(supplier=supplier, part=part, pack_cents=400)
    url = "/api/v1/supplier-prices?expand=supplier,part&fields=supplier,part,pack_cents"
    [price] = owner.get(url).json()["results"]
    assert price["supplier"]["name"] == "Valley Steel"
    assert price["part"]["company"] == branch.company_id


def people(branch: Branch, *names: str) -> dict[str, Any]:
    rows = [{"username": name, "branch": branch.pk, "role": "crew"} for name in names]
    return {"rows": rows}


@pytest.mark.parametrize("name", ["users", "parts", "customers", "sites", "readings"])
def test_bulk_is_offered_where_lists_come_from_elsewhere(owner: ApiTester, name: str) -> None:
    answer = owner.post(f"/api/v1/{name}/bulk", {"rows": [{"colour": "red"}]})
    [fate] = answer.json()["results"]
    assert (answer.status_code, fate["status"]) == (200, 400)
    told = {error["pointer"]: error["code"] for error in fate["problem"]["errors"]}
    assert told["#/colour"] == "unknown_member"
    only_there = owner.get(f"/api/v1/{name}?dry_run=true")
    assert_problem(only_there, 400, "unknown_parameter")


def test_bulk_readings_name_walls_of_ones_own_branches(
    owner: ApiTester, branch: Branch, foreign_branch: Branch
) -> None:
    rows = []
    for at in (branch, foreign_branch):
        customer = Customer.objects.create(branch=at, name="A. Fern")
        site = Site.objects.create(branch=at, customer=customer, label="1", time_zone="UTC")
        Survey.objects.create(
            branch=at,
            site=site,
            wall="north wall",
            revision=1,
            measured_on="2026-01-05",
            document={},
        )
        bow = {"kind": "bow", "at": "5 ft", "height": "4 ft", "value": "1 in"}
        rows.append({"site": site.pk, "wall": "north wall", "measured_on": "2026-02-01", **bow})
    rows.append({**rows[0], "wall": "no such wall"})
    fates = owner.post("/api/v1/readings/bulk", {"rows": rows}).json()["results"]
    assert [fate["status"] for fate in fates] == [201, 400, 404]
    assert Reading.objects.count() == 1


def test_bulk_tells_the_fate_of_each_row(
    owner: ApiTester, branch: Branch, foreign_branch: Branch
) -> None:
    body = people(branch, "ann", "ann", "b b", "cy")
    body["rows"].append({"username": "dee", "branch": foreign_branch.pk, "role": "crew"})
    answer = owner.post(BULK, body, HTTP_IDEMPOTENCY_KEY="k")
    assert answer.status_code == 200, answer.content
    document = answer.json()
    assert (document["stored"], document["refused"]) == (2, 3)
    fates = [(row["status"], (row["problem"] or {}).get("code")) for row in document["results"]]
    assert fates == [
        (201, None),
        (409, "name_taken"),
        (400, "invalid_input"),
        (201, None),
        (400, "invalid_input"),
    ]
    assert document["results"][2]["problem"]["errors"][0]["pointer"] == "#/username"
    assert set(
        User.objects.filter(
            memberships__role="crew", username__in=["ann", "cy", "dee"]
        ).values_list("username", flat=True)
    ) == {"ann", "cy"}
    assert owner.post(BULK, body, HTTP_IDEMPOTENCY_KEY="k").content == answer.content


def test_a_dry_run_stores_nothing_and_does_not_burn_the_key(
    owner: ApiTester, branch: Branch
) -> None:
    before = (User.objects.count(), AuditEntry.objects.count())
    body = people(branch, "ann", "ann")
    tried = owner.post(f"{BULK}?dry_run=true", body, HTTP_IDEMPOTENCY_KEY="k")
    assert (tried.json()["stored"], tried.json()["refused"]) == (1, 1)
    assert (User.objects.count(), AuditEntry.objects.count()) == before
    assert not RememberedAnswer.objects.exists()
    assert owner.post(BULK, body, HTTP_IDEMPOTENCY_KEY="k").json()["stored"] == 1


@pytest.mark.parametrize("rows", [[], [{}] * 501, "x", [1]])
def test_bulk_is_bounded(owner: ApiTester, rows: Any) -> None:
    assert_problem(owner.post(BULK, {"rows": rows}), 400, "invalid_input")


DANGEROUS = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "＝1"]


@pytest.mark.parametrize("text", DANGEROUS)
def test_a_cell_never_starts_a_formula(text: str) -> None:
    assert harmless(text) == "'" + text


@pytest.mark.parametrize("value", ["plain", -1, 2.5, None, True, "a=b"])
def test_other_cells_stay(value: Any) -> None:
    assert harmless(value) == value


def test_quantities_become_two_columns_and_numbers_stay_numbers() -> None:
    class Shape(serializers.Serializer[Any]):
        id = serializers.IntegerField()
        length = LengthField()
        tags = serializers.ListField()
        note = serializers.CharField()

    columns = columns_of(Shape().fields)
    length = {"value": -92.5, "unit": "in", "text": "-7'-8 1/2\""}
    documents: list[dict[str, Any]] = [
        {"id": 1, "length": length, "tags": ["a"]},
        {"id": 2, "note": "=1"},
    ]
    table: list[Any] = [list(columns), *(row_of(document, columns) for document in documents)]
    assert table == [
        ["id", "length", "length_unit", "tags", "note"],
        [1, -92.5, "in", '["a"]', None],
        [2, None, None, None, "=1"],
    ]
    assert b"".join(csv_chunks(table)).splitlines()[2] == b'2,"","","","\'=1"'
    sheet = load_workbook(xlsx_file(table)).active
    assert sheet is not None
    cells = [[cell.value for cell in row] for row in sheet.iter_rows()]
    assert cells[1][1] == -92.5
    assert cells[2][4] == "'=1"
    assert sheet.cell(3, 5).data_type == "s"


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_trail_can_be_exported(owner: ApiTester, branch: Branch, kind: str) -> None:
    answer = owner.get(f"/api/v1/audit/export?as={kind}&subject=branch:{branch.pk}")
    assert answer.status_code == 200
    assert answer["Content-Disposition"] == f'attachment; filename="auditentry.{kind}"'
    if kind == "csv":
        rows = list(csv.DictReader(io.StringIO(answer.getvalue().decode())))
    else:
        sheet = load_workbook(io.BytesIO(answer.getvalue())).active
        assert sheet is not None
        head, *lines = sheet.iter_rows(values_only=True)
        rows = [dict(zip(head, line, strict=True)) for line in lines]
    assert [row["subject"] for row in rows] == [f"branch:{branch.pk}"]


def test_export_offers_two_forms(owner: ApiTester) -> None:
    assert_problem(owner.get("/api/v1/audit/export?as=pdf"), 400, "invalid_parameter")
    with_mark = owner.get("/api/v1/audit/export?bom=true").getvalue()
    assert with_mark.startswith(b"\xef\xbb\xbf")
