"""An office's lists come in: the dry run tells each row's fate, the real run all or nothing."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import load_workbook

from contractor.api.models import AuditEntry, Branch, Membership, RememberedAnswer, User
from inventory.models import LedgerEntry, Part, Receipt, StockLength, SupplierPart
from jobs.models import Customer, Site
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester
from tests.jobs.exchange.conftest import stock_catalogue

CUSTOMERS = "/api/v1/customers/import"
LIST = """reference,name,email,phone,language
C-1,Ann Fern,fern@example.org,+1 555-0101,en
C-2,Ben Pine,,555-0102,es

C-3,Cy Oak,oak@example.org,,
"""


def send(client: ApiTester, path: str, content: str | bytes, **form: Any) -> Any:
    query = "?dry_run=true" if form.pop("dry_run", False) else ""
    body = content.encode() if isinstance(content, str) else content
    data = {"file": SimpleUploadedFile("list.csv", body), **form}
    return client.post(path + query, data, format="multipart")


def fates(document: dict[str, Any]) -> list[tuple[int, str]]:
    return [(row["row"], row["fate"]) for row in document["rows"]]


def test_a_dry_run_tells_each_fate_and_writes_nothing(office: ApiTester, branch: Branch) -> None:
    Customer.objects.create(branch=branch, reference="C-1", name="Ann Fern", phone="555-0199")
    before = AuditEntry.objects.count()
    bad = LIST + "C-4,,x,,fr\nC-2,Ben Again,,,\n"
    told = send(office, CUSTOMERS, bad, dry_run=True).json()
    assert fates(told) == [
        (2, "changed"),
        (3, "created"),
        (5, "created"),
        (6, "refused"),
        (7, "refused"),
    ]
    assert told["is_stored"] is False
    assert told["rows"][0]["changes"] == {
        "email": {"before": "", "after": "fern@example.org"},
        "phone": {"before": "555-0199", "after": "+1 555-0101"},
    }
    problem = told["rows"][3]["problem"]
    assert {entry["pointer"] for entry in problem["errors"]} == {"#/name", "#/email", "#/language"}
    assert "row 3" in told["rows"][4]["problem"]["detail"]
    assert Customer.objects.count() == 1
    assert Customer.objects.get().phone == "555-0199"
    assert AuditEntry.objects.count() == before
    assert not RememberedAnswer.objects.exists()


def test_the_real_run_stores_all_and_again_nothing(office: ApiTester, branch: Branch) -> None:
    first = send(office, CUSTOMERS, LIST).json()
    assert (first["created"], first["is_stored"]) == (3, True)
    ann = Customer.objects.get(reference="C-1")
    assert (ann.branch, ann.phone, ann.language) == (branch, "+1 555-0101", "en")
    entry = AuditEntry.objects.get(subject=f"customer:{ann.pk}")
    assert (entry.what, entry.after["name"]) == ("created", "Ann Fern")
    again = send(office, CUSTOMERS, LIST).json()
    assert (again["created"], again["unchanged"]) == (0, 3)
    assert Customer.objects.count() == 3


def test_a_list_without_numbers_is_not_doubled_either(office: ApiTester, branch: Branch) -> None:
    content = "name,phone\nAnn Fern,555-0101\nAnn Fern,555-0102\n"
    assert send(office, CUSTOMERS, content).json()["created"] == 2
    assert send(office, CUSTOMERS, content).json()["unchanged"] == 2


def test_one_refused_row_leaves_the_others_out_too(office: ApiTester, branch: Branch) -> None:
    refused = send(office, CUSTOMERS, LIST + "C-9,,,,\n")
    document = assert_problem(refused, 409, "import_refused")
    assert [row["row"] for row in document["rows"]] == [6]
    assert not Customer.objects.exists()


def test_a_blank_cell_deletes_nothing(office: ApiTester, branch: Branch) -> None:
    send(office, CUSTOMERS, LIST)
    told = send(office, CUSTOMERS, "reference,name,email\nC-1,Ann Fern-Hill,\n").json()
    assert list(told["rows"][0]["changes"]) == ["name"]
    assert Customer.objects.get(reference="C-1").email == "fern@example.org"


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_an_export_comes_back_unchanged(office: ApiTester, branch: Branch, kind: str) -> None:
    Customer.objects.create(branch=branch, name="=HYPERLINK(1)", phone="+1 555 0101")
    Customer.objects.create(branch=branch, name="@Ann", email="ann@example.org", reference="-7")
    content = office.get(f"/api/v1/customers/export?as={kind}").getvalue()
    if kind == "csv":
        assert b'"\'=HYPERLINK(1)"' in content
        assert b'"\'+1 555 0101"' in content
    else:
        sheet = load_workbook(io.BytesIO(content)).active
        assert sheet is not None
        assert not [cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    told = send(office, CUSTOMERS, content).json()
    assert (told["unchanged"], told["refused"]) == (2, 0), told
    assert {"version", "created_at", "consents"} <= set(told["ignored_columns"])


def test_unknown_columns_and_members_are_refused(office: ApiTester, branch: Branch) -> None:
    answer = send(office, CUSTOMERS, "name,colour\nAnn,red\n")
    document = assert_problem(answer, 400, "unreadable_table")
    assert "phone" in document["remedy"]
    assert_problem(send(office, CUSTOMERS, LIST, colour="red"), 400, "invalid_input")
    assert_problem(send(office, CUSTOMERS, LIST, encoding="ebcdic"), 400, "invalid_input")
    assert_problem(office.post(CUSTOMERS, {}, format="multipart"), 400, "unreadable_table")
    assert_problem(office.post(CUSTOMERS, {"a": 1}), 415, "unsupported_media_type")


def test_rows_of_other_branches_stay_out_of_reach(
    office: ApiTester, branch: Branch, other_branch: Branch, foreign_branch: Branch
) -> None:
    rows = [
        Customer.objects.create(branch=at, reference="C-1", name="Far")
        for at in (other_branch, foreign_branch)
    ]
    content = f"id,name\n{rows[0].pk},Near\n{rows[1].pk},Near\n{10**17},Near\n"
    told = send(office, CUSTOMERS, content, dry_run=True).json()
    codes = [row["problem"]["errors"][0]["code"] for row in told["rows"]]
    assert codes == ["does_not_exist"] * 3
    by_branch = f"branch,name\n{other_branch.pk},A\n{foreign_branch.pk},B\n"
    assert send(office, CUSTOMERS, by_branch, dry_run=True).json()["refused"] == 2
    assert send(office, CUSTOMERS, "reference,name\nC-1,Near\n").json()["created"] == 1
    assert [Customer.objects.get(pk=row.pk).name for row in rows] == ["Far", "Far"]


def test_roles_hold_row_by_row(
    users: dict[str, User], clients: dict[str, ApiTester], branch: Branch, other_branch: Branch
) -> None:
    Membership.objects.create(user=users["office"], branch=other_branch, role="crew")
    content = f"branch,name\n{branch.pk},A\n{other_branch.pk},B\n"
    told = send(clients["office"], CUSTOMERS, content, dry_run=True).json()
    assert [row["fate"] for row in told["rows"]] == ["created", "refused"]
    assert told["rows"][1]["problem"]["code"] == "role_missing"
    assert_problem(send(clients["crew"], CUSTOMERS, LIST), 403, "role_missing")


def test_somebody_of_two_branches_says_which(
    users: dict[str, User], office: ApiTester, branch: Branch, other_branch: Branch
) -> None:
    Membership.objects.create(user=users["office"], branch=other_branch, role="office")
    told = send(office, CUSTOMERS, LIST, dry_run=True).json()
    assert told["rows"][0]["problem"]["errors"][0]["pointer"] == "#/place"
    assert send(office, CUSTOMERS, LIST, place=other_branch.pk).json()["created"] == 3
    assert set(Customer.objects.values_list("branch", flat=True)) == {other_branch.pk}
    assert send(office, CUSTOMERS, LIST, place=branch.pk).json()["created"] == 3


def test_a_row_does_not_move_to_another_branch(
    users: dict[str, User], office: ApiTester, branch: Branch, other_branch: Branch
) -> None:
    Membership.objects.create(user=users["office"], branch=other_branch, role="office")
    row = Customer.objects.create(branch=branch, name="Ann")
    told = send(office, CUSTOMERS, f"id,branch\n{row.pk},{other_branch.pk}\n", dry_run=True).json()
    assert told["rows"][0]["problem"]["errors"][0]["code"] == "read_only"


def test_sites_name_their_customer_as_the_office_does(office: ApiTester, branch: Branch) -> None:
    send(office, CUSTOMERS, LIST)
    Customer.objects.create(branch=branch, name="Ben Pine")
    content = (
        "Customer Reference,Customer Name,Label,Time Zone,Built Year,Latitude\n"
        "C-1,,5 Fern St,America/New_York,1962,41.5\n"
        ",Ben Pine,6 Pine St,America/New_York,,\n"
        ",Nobody,7 Elm St,America/New_York,,\n"
        "C-3,,8 Oak St,Mars,,\n"
    )
    path = "/api/v1/sites/import"
    told = send(office, path, content, dry_run=True).json()
    codes = [(row["problem"] or {}).get("errors", [{}])[0].get("code") for row in told["rows"]]
    assert codes == [None, "ambiguous", "does_not_exist", "unknown_zone"]
    good = "\n".join(content.splitlines()[:2]) + "\n"
    assert send(office, path, good).json()["created"] == 1
    assert send(office, path, good).json()["unchanged"] == 1
    site = Site.objects.get()
    assert (site.customer.reference, site.built_year, site.latitude) == ("C-1", 1962, 41.5)


def test_parts_and_prices_with_units_as_written_on_site(
    clients: dict[str, ApiTester], branch: Branch
) -> None:
    office = clients["office"]
    parts = (
        "code,description,kind,weight_per_length,kerf,min_offcut\n"
        'W8,Steel beam,bar,18 lb/ft,"1/8""",2 ft\n'
        "N16,16d nail,consumable,,,\n"
    )
    assert send(office, "/api/v1/parts/import", parts).json()["created"] == 2
    beam = Part.objects.get(code="W8")
    assert (beam.weight_plf, beam.kerf_ticks, beam.min_offcut_ticks) == (18, 8, 24 * 64)
    bare = send(office, "/api/v1/parts/import", "code,kerf\nW8,3\n", dry_run=True).json()
    assert bare["rows"][0]["problem"]["errors"][0]["pointer"] == "#/kerf"
    supplier = office.post(
        "/api/v1/suppliers", {"company": branch.company_id, "name": "Valley Steel"}
    )
    assert supplier.status_code == 201
    prices = (
        "supplier_name,part_code,length,pack_size,pack_cents\n"
        "Valley Steel,W8,20 ft,1,16020\nValley Steel,N16,,50,900\n"
    )
    path = "/api/v1/supplier-prices/import"
    assert send(office, path, prices).json()["created"] == 2
    dearer = send(office, path, prices.replace("16020", "17000")).json()
    assert [row["fate"] for row in dearer["rows"]] == ["changed", "unchanged"]
    assert dearer["rows"][0]["changes"] == {"pack_cents": {"before": 16020, "after": 17000}}
    assert SupplierPart.objects.get(part=beam).pack_cents == 17000


def test_opening_stock_is_booked_in_once(office: ApiTester, branch: Branch) -> None:
    stock_catalogue(branch)
    beam = Part.objects.filter(role="beam").order_by("code").first()
    assert beam is not None
    path, head = "/api/v1/receipts/import", "part_code,length,quantity,cents\n"
    content = head + f"{beam.code},20 ft,3,48060\n"
    bad = content + "NO-SUCH,,1,1\n" + f"{beam.code},20,1,1\n"
    form = {"place": branch.pk, "reference": "opening stock"}
    told = send(office, path, bad, dry_run=True, **form).json()
    assert [row["fate"] for row in told["rows"]] == ["created", "refused", "refused"]
    assert_problem(send(office, path, bad, **form), 409, "import_refused")
    assert send(office, path, content, dry_run=True, **form).json()["created"] == 1
    assert not LedgerEntry.objects.exists()
    assert send(office, path, content, **form).json()["created"] == 1
    assert send(office, path, content, **form).json()["unchanged"] == 1
    assert (Receipt.objects.count(), LedgerEntry.objects.count()) == (1, 1)
    assert StockLength.objects.get().on_hand == 3
    assert_problem(send(office, path, content, place=branch.pk), 400, "invalid_input")


def test_opening_stock_stays_at_ones_own_branch(
    office: ApiTester, branch: Branch, foreign_branch: Branch, make_user: Callable[..., User]
) -> None:
    stock_catalogue(branch)
    answer = send(
        office,
        "/api/v1/receipts/import",
        "part_code,quantity,cents\nX,1,1\n",
        place=foreign_branch.pk,
        reference="x",
    )
    assert_problem(answer, 400, "invalid_input")
    assert not Receipt.objects.exists()


def test_the_same_request_twice_takes_effect_once(office: ApiTester, branch: Branch) -> None:
    key: Any = {"HTTP_IDEMPOTENCY_KEY": "list-1"}
    file = SimpleUploadedFile("list.csv", LIST.encode())
    first = office.post(CUSTOMERS, {"file": file}, format="multipart", **key)
    file.seek(0)
    again = office.post(CUSTOMERS, {"file": file}, format="multipart", **key)
    assert (first.status_code, first.content) == (200, again.content)
    other = SimpleUploadedFile("list.csv", LIST.replace("Ann", "Eve").encode())
    refused = office.post(CUSTOMERS, {"file": other}, format="multipart", **key)
    assert_problem(refused, 422, "idempotency_key_reused")


def test_a_reference_is_given_once(office: ApiTester, branch: Branch) -> None:
    body = {"branch": branch.pk, "name": "Ann", "reference": "C-1"}
    assert office.post("/api/v1/customers", body).status_code == 201
    assert_problem(office.post("/api/v1/customers", body), 409, "already_there")
    made = office.post("/api/v1/customers", {**body, "reference": ""})
    url = f"/api/v1/customers/{made.json()['id']}"
    refused = office.change(url, made["ETag"], {"reference": "C-1"})
    assert_problem(refused, 409, "already_there")
    assert Customer.objects.filter(reference="C-1").count() == 1
    assert office.change(url, made["ETag"], {"reference": "C-2"}).status_code == 200


def test_a_customer_and_a_site_stay_at_their_branch(
    users: dict[str, User], office: ApiTester, branch: Branch, other_branch: Branch
) -> None:
    Membership.objects.create(user=users["office"], branch=other_branch, role="office")
    made = office.post("/api/v1/customers", {"branch": branch.pk, "name": "Ann"})
    url = f"/api/v1/customers/{made.json()['id']}"
    moved = office.change(url, made["ETag"], {"branch": other_branch.pk})
    assert assert_problem(moved, 400, "invalid_input")["errors"][0]["code"] == "read_only"
    body = {
        "branch": other_branch.pk,
        "customer": made.json()["id"],
        "label": "5 Fern Street",
        "time_zone": "America/Chicago",
    }
    refused = assert_problem(office.post("/api/v1/sites", body), 400, "invalid_input")
    assert refused["errors"][0] == {
        "pointer": "#/customer",
        "detail": "It belongs to another branch.",
        "code": "other_branch",
    }
    assert not Site.objects.exists()


@pytest.mark.parametrize("key", ["abc", "1.5", "9" * 30, "-1", "\u0663", "0"])
def test_keys_that_are_none_are_refused_row_by_row(
    office: ApiTester, branch: Branch, key: str
) -> None:
    for column in ("id", "branch"):
        content = f"{column},name\n{key},Ann\n"
        told = send(office, CUSTOMERS, content, dry_run=True).json()
        (row,) = told["rows"]
        assert row["fate"] == "refused"
        assert row["problem"]["errors"][0]["pointer"].startswith("#")
