"""The warehouse through HTTP: one story, roles by branch, refusals as problem details."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from contractor import queue
from contractor.api.models import Branch, Company, Role, User
from inventory import services
from inventory.amounts import Need
from inventory.models import CuttingPlan, Kit, LedgerEntry, Lot, Offcut, Part, StockLevel, Supplier
from tests.conftest import ApiTester
from tests.inventory.conftest import AT, FT, kit_of

ROOT = "/api/v1"


@pytest.fixture
def api(warehouse: ApiTester, stocked: Branch) -> ApiTester:
    return warehouse


def open_kit(api: ApiTester, branch: Branch, *lines: dict[str, Any], **more: Any) -> Any:
    body = {"branch": branch.pk, "reference": "J-1", "lines": list(lines), **more}
    return api.post(f"{ROOT}/kits", body)


def test_from_kit_to_truck(
    api: ApiTester,
    branch: Branch,
    beam: Part,
    bolt: Part,
    django_capture_on_commit_callbacks: Any,
) -> None:
    lines: list[dict[str, Any]] = [
        {"part": beam.pk, "quantity": 2, "length": "7'-11 1/2\"", "mark": "B1"},
        {"part": bolt.pk, "quantity": 12},
    ]
    made = open_kit(api, branch, *lines, priority=2)
    assert made.status_code == 201, made.json()
    kit, tag = made.json(), made["ETag"]
    assert tag == f'"kit-{kit["id"]}-v1"'
    assert kit["lines"][0]["length"]["text"] == "7'-11 1/2\""
    assert kit["lines"][1]["length"] is None
    at = f"{ROOT}/kits/{kit['id']}"
    held = api.act(f"{at}/reserve", tag)
    assert (held.status_code, held.json()["status"]) == (200, "reserved")
    with django_capture_on_commit_callbacks(execute=True):
        asked = api.post(f"{ROOT}/cutting-plans", {"kits": [kit["id"]]})
    assert asked.status_code == 202
    plan_at = f"{ROOT}/cutting-plans/{asked.json()['results'][0]['id']}"
    queue.drain()
    found = api.get(f"{ROOT}/cutting-plans?kits={kit['id']}&status=draft").json()["results"]
    assert [f"{ROOT}/cutting-plans/{one['id']}" for one in found] == [plan_at]
    assert api.get(f"{ROOT}/cutting-plans?kits={10**30}").status_code == 400
    plan = api.get(plan_at)
    assert (plan.json()["status"], plan.json()["is_proven"]) == ("draft", True)
    listed = api.get(f"{plan_at}/cut-list?units=si").json()
    assert listed["bars"][0]["length"] == {"value": 6096.0, "unit": "mm", "text": "6096 mm"}
    assert len(api.get(f"{plan_at}/labels").json()["results"]) == 2
    frozen = api.act(f"{plan_at}/start-sawing", plan["ETag"])
    bar = plan.json()["bars"][0]["id"]
    sawn = api.act(f"{plan_at}/record-sawn", frozen["ETag"], {"bar": bar, "left": "3 ft"})
    assert sawn.json()["status"] == "done"
    assert Offcut.objects.get().length_ticks == 3 * FT
    kit = api.get(at)
    steps: list[tuple[str, dict[str, Any]]] = [
        ("start-pulling", {}),
        ("pull", {"line": kit.json()["lines"][0]["id"], "quantity": 2}),
        ("pull", {"line": kit.json()["lines"][1]["id"], "quantity": 11}),
        ("short", {"line": kit.json()["lines"][1]["id"], "quantity": 1, "reason": "box was short"}),
        ("stage", {}),
        ("load", {}),
        ("return", {"lines": [{"line": kit.json()["lines"][1]["id"], "quantity": 1}]}),
    ]
    for name, body in steps:
        kit = api.act(f"{at}/{name}", kit["ETag"], body)
        assert kit.status_code == 200, (name, kit.json())
    assert kit.json()["status"] == "returned"
    assert StockLevel.objects.get().on_hand == 90
    assert api.get(f"{ROOT}/stock-check?branch={branch.pk}").json() == {"results": []}


def test_the_shortage_list_is_in_the_problem(
    api: ApiTester, branch: Branch, supplier: Supplier, bolt: Part
) -> None:
    made = open_kit(api, branch, {"part": bolt.pk, "quantity": 130})
    refused = api.act(f"{ROOT}/kits/{made.json()['id']}/reserve", made["ETag"])
    assert refused.status_code == 409
    assert refused["Content-Type"] == "application/problem+json"
    body = refused.json()
    assert body["code"] == "insufficient_stock"
    assert body["shortages"][0]["short"] == 30
    assert body["shortages"][0]["source"] == "lead_time"


def test_the_coded_refusals_of_bad_input(
    api: ApiTester, branch: Branch, beam: Part, bolt: Part
) -> None:
    kits = Kit.objects.count()
    cases: list[tuple[dict[str, Any], int, str]] = [
        ({"part": bolt.pk, "quantity": 0}, 400, "invalid_input"),
        ({"part": bolt.pk, "quantity": -3}, 400, "invalid_input"),
        ({"part": bolt.pk, "quantity": 1.5}, 400, "invalid_input"),
        ({"part": 10**9, "quantity": 1}, 400, "invalid_input"),
        ({"part": bolt.pk, "quantity": 1, "length": "2 ft"}, 400, "wrong_kind_of_part"),
        ({"part": beam.pk, "quantity": 1}, 400, "wrong_kind_of_part"),
        ({"part": beam.pk, "quantity": 1, "length": "8"}, 400, "invalid_input"),
        ({"part": beam.pk, "quantity": 1, "length": "21 ft"}, 409, "piece_too_long"),
        ({"part": bolt.pk, "quantity": 1, "colour": "red"}, 400, "invalid_input"),
    ]
    for line, status, code in cases:
        refused = open_kit(api, branch, line)
        assert (refused.status_code, refused.json()["code"]) == (status, code), line
        assert refused.json()["remedy"]
    assert open_kit(api, branch).status_code == 400
    assert Kit.objects.count() == kits


def test_versions_are_demanded_and_compared(api: ApiTester, branch: Branch, bolt: Part) -> None:
    made = open_kit(api, branch, {"part": bolt.pk, "quantity": 1})
    at = f"{ROOT}/kits/{made.json()['id']}/reserve"
    assert api.post(at, {}).status_code == 428
    assert api.act(at, f'"kit-{made.json()["id"]}-v9"').status_code == 412
    assert Kit.objects.get().status == "open"
    assert api.act(at, made["ETag"]).status_code == 200
    assert api.act(at, made["ETag"]).status_code == 412
    assert api.act(at, "*").json()["code"] == "wrong_state"


def test_parts_and_prices(owner: ApiTester, company: Company) -> None:
    body = {
        "company": company.pk,
        "code": "W6",
        "description": "Beam W6x12",
        "kind": "bar",
        "weight_per_length": "12 lb/ft",
        "kerf": "1/8 in",
    }
    made = owner.post(f"{ROOT}/parts", body)
    assert made.status_code == 201, made.json()
    assert made.json()["kerf"]["text"] == "0'-0 1/8\""
    at = f"{ROOT}/parts/{made.json()['id']}"
    changed = owner.change(at, made["ETag"], {"min_offcut": "600 mm"})
    assert changed.json()["min_offcut"]["text"] == "1'-11 5/8\""
    assert owner.change(at, changed["ETag"], {"kind": "each"}).status_code == 400
    assert owner.post(f"{ROOT}/parts", body).status_code == 400  # the code is taken
    supplier = owner.post(f"{ROOT}/suppliers", {"company": company.pk, "name": "Valley Steel"})
    price = {
        "supplier": supplier.json()["id"],
        "part": made.json()["id"],
        "length": "20 ft",
        "pack_cents": 27_200,
    }
    for cents in (27_200, 28_000):
        answer = owner.post(f"{ROOT}/supplier-prices", {**price, "pack_cents": cents})
        assert answer.status_code == 201, answer.json()
    listed = owner.get(f"{ROOT}/supplier-prices?part={made.json()['id']}").json()["results"]
    assert [row["pack_cents"] for row in listed] == [28_000]


def test_receipts_orders_and_stock_at_a_date(
    api: ApiTester, office: ApiTester, branch: Branch, supplier: Supplier, bolt: Part, beam: Part
) -> None:
    received = api.post(
        f"{ROOT}/receipts",
        {"branch": branch.pk, "lines": [{"part": bolt.pk, "packs": 1, "cents": 6_500}]},
    )
    assert received.status_code == 201, received.json()
    assert received.json()["lines"][0]["quantity"] == 50
    line = {"part": beam.pk, "quantity": 2, "length": "40 ft", "cents": 60_220}
    drafted = api.post(
        f"{ROOT}/supplier-orders",
        {"branch": branch.pk, "supplier": supplier.pk, "lines": [line]},
    )
    at = f"{ROOT}/supplier-orders/{drafted.json()['id']}"
    assert api.act(f"{at}/place", drafted["ETag"]).status_code == 403  # the office buys
    placed = office.act(f"{at}/place", drafted["ETag"])
    assert placed.json()["status"] == "placed"
    row = placed.json()["lines"][0]["id"]
    moved = api.act(
        f"{at}/change-promise", placed["ETag"], {"line": row, "promised_on": "2030-01-02"}
    )
    assert moved.json()["lines"][0]["promised_on"] == "2030-01-02"
    came = api.act(
        f"{at}/receive",
        moved["ETag"],
        {"lines": [{**line, "order_line": row, "lot_number": "H 1"}]},
    )
    assert came.status_code == 201, came.json()
    assert api.get(at).json()["status"] == "received"
    stock = api.get(f"{ROOT}/stock?branch={branch.pk}").json()
    assert stock["cents"] == 48_060 + 13_000 + 6_500 + 60_220
    past = api.get(f"{ROOT}/stock?branch={branch.pk}&at=2026-03-02T15:00:00Z").json()
    assert past["cents"] == 61_060
    assert api.get(f"{ROOT}/stock?branch={branch.pk}&at=2026-03-02").status_code == 400
    assert api.get(f"{ROOT}/stock").status_code == 404
    ledger = api.get(f"{ROOT}/ledger?part={bolt.pk}").json()["results"]
    assert [entry["cents"] for entry in ledger] == [6_500, 13_000]
    assert api.post(f"{ROOT}/ledger", {}).status_code == 405


def test_counts_transfers_reservations(
    api: ApiTester,
    branch: Branch,
    other_branch: Branch,
    bolt: Part,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
) -> None:
    level = StockLevel.objects.get()
    place = {"branch": branch.pk, "stock_level": level.pk}
    counted = api.post(f"{ROOT}/counts", {**place, "found": 98, "reason": "bent"})
    assert (counted.status_code, counted.json()["expected"]) == (201, 100)
    fixed = api.post(f"{ROOT}/counts/adjust", {**place, "change": 2, "reason": "found"})
    assert (fixed.status_code, fixed.json()["is_adjustment"]) == (201, True)
    assert api.post(f"{ROOT}/counts", {**place, "found": 98}).status_code == 400
    new = {"branch": branch.pk, "part": bolt.pk, "found": 3, "reason": "drawer"}
    assert api.post(f"{ROOT}/counts", {**new, **place}).status_code == 400
    held = api.post(
        f"{ROOT}/reservations",
        {"branch": branch.pk, "lines": [{"part": bolt.pk, "quantity": 60}]},
    )
    assert held.status_code == 201, held.json()
    released = api.act(f"{ROOT}/reservations/{held.json()['id']}/release", held["ETag"])
    assert released.json()["status"] == "released"
    sent = api.post(
        f"{ROOT}/transfers",
        {
            "branch": branch.pk,
            "to_branch": other_branch.pk,
            "lines": [{"stock_level": level.pk, "count": 30}],
        },
    )
    assert sent.status_code == 201, sent.json()
    there = client_for(make_user(Role.WAREHOUSE, other_branch))
    at = f"{ROOT}/incoming-transfers/{sent.json()['id']}"
    assert api.get(at).status_code == 404
    seen = there.get(at)
    arrived = there.act(f"{at}/arrive", seen["ETag"], {})
    assert (arrived.status_code, arrived.json()["status"]) == (200, "arrived")
    assert StockLevel.objects.get(branch=other_branch).on_hand == 30


def test_promises_proposals_and_suggestions(
    api: ApiTester, branch: Branch, supplier: Supplier, bolt: Part, beam: Part
) -> None:
    body = {
        "branch": branch.pk,
        "lines": [
            {"part": bolt.pk, "quantity": 30},
            {"part": beam.pk, "quantity": 4, "length": "11 ft"},
        ],
    }
    answer = api.post(f"{ROOT}/available-to-promise", body)
    assert answer.status_code == 200, answer.json()
    first, second = answer.json()["lines"]
    assert (first["source"], second["source"]) == ("stock", "lead_time")
    assert answer.json()["whole_on"] == second["on"] > first["on"]
    calm = kit_of(branch, Need(bolt.pk, 90), reference="calm")
    services.reserve_kit(calm.pk, at=AT)
    severe = kit_of(branch, Need(bolt.pk, 50), reference="severe", priority=4)
    found = api.get(f"{ROOT}/kits/{severe.pk}/reallocation-proposals").json()["results"]
    assert [(one["kit"], one["losses"][0]["quantity"]) for one in found] == [(calm.pk, 90)]
    tag = api.get(f"{ROOT}/kits/{severe.pk}")["ETag"]
    taken = api.act(f"{ROOT}/kits/{severe.pk}/take-over", tag, {"donors": [calm.pk]})
    assert taken.json()["status"] == "reserved"
    wanted = api.get(f"{ROOT}/order-suggestions?branch={branch.pk}").json()["results"]
    assert wanted[0]["lines"][0]["packs"] == 1  # calm needs 90, 50 are free
    assert api.get(f"{ROOT}/reorder-points?branch={branch.pk}").json() == {"results": []}
    assert api.get(f"{ROOT}/saw-report?branch={branch.pk}").json()["months"] == []
    assert api.get(f"{ROOT}/saw-report?branch={branch.pk}&first=x").status_code == 400
    sheet = api.get(f"{ROOT}/kits/{severe.pk}/pull-sheet").json()
    assert sheet["lines"][0]["take"] == [{"bin": None, "lot": None, "quantity": 50}]


def test_mis_cut_over_http(api: ApiTester, branch: Branch, beam: Part) -> None:
    kit = kit_of(branch, Need(beam.pk, 2, 8 * FT, "B"))
    (plan,) = services.plan_cuts([kit.pk], at=AT)
    at = f"{ROOT}/cutting-plans/{plan.pk}"
    shown = api.get(at)
    (bar,) = shown.json()["bars"]
    other = CuttingPlan.objects.create(branch=branch, part=beam)
    foreign = f"{ROOT}/cutting-plans/{other.pk}"
    tag = api.get(foreign)["ETag"]
    assert api.act(f"{foreign}/record-sawn", tag, {"bar": bar["id"]}).status_code == 404
    sawn = api.act(f"{at}/record-sawn", shown["ETag"], {"bar": bar["id"]})
    piece = bar["pieces"][0]["id"]
    lost = api.act(
        f"{at}/record-mis-cut", sawn["ETag"], {"piece": piece, "reason": "slip", "actual": "7 ft"}
    )
    assert lost.json()["needs_replan"] is True
    assert Offcut.objects.filter(length_ticks=7 * FT).count() == 1
    services.replan_cuts(plan.pk, at=AT)
    fresh = api.get(at)
    assert [row["status"] for row in fresh.json()["bars"]] == ["sawn", "planned"]
    second = bar["pieces"][1]["id"]
    gone = api.act(f"{at}/record-scrapped", fresh["ETag"], {"piece": second, "reason": "bent"})
    assert gone.status_code == 200
    line = kit.lines.get()
    version = api.get(f"{ROOT}/kits/{kit.pk}")["ETag"]
    body = {"line": line.pk, "length": "7 ft", "count": 1}
    remeasured = api.act(f"{ROOT}/kits/{kit.pk}/remeasure", version, body)
    assert [one["quantity"] for one in remeasured.json()["lines"]] == [1, 1]


def test_a_certificate_goes_in_and_comes_out(
    api: ApiTester, beam: Part, settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path
    lot = Lot.objects.create(part=beam, number="H 9")
    at = f"{ROOT}/lots/{lot.pk}"
    assert api.get(f"{at}/certificate").status_code == 404
    scan = SimpleUploadedFile("cert.pdf", b"%PDF-1.7 heat H 9")
    done = api.post(f"{at}/attach-certificate", {"file": scan}, format="multipart")
    assert done.status_code == 200, done.json()
    assert done.json()["has_certificate"] is True
    answer: Any = api.get(f"{at}/certificate")
    assert b"".join(answer.streaming_content) == b"%PDF-1.7 heat H 9"
    assert answer["Content-Disposition"].startswith("attachment")
    bad = SimpleUploadedFile("cert.exe", b"MZ")
    assert (
        api.post(f"{at}/attach-certificate", {"file": bad}, format="multipart").status_code == 400
    )


READ = ("parts", "bins", "kits")
STOCK_READ = (
    "stock-levels",
    "ledger",
    "supplier-orders",
    "reservations",
    "cutting-plans",
    "counts",
)


def test_the_crew_reads_kits_and_loads_them(
    clients: dict[str, ApiTester], stocked: Branch, bolt: Part
) -> None:
    crew = clients["crew"]
    assert {name: crew.get(f"{ROOT}/{name}").status_code for name in READ} == dict.fromkeys(
        READ, 200
    )
    refused = {name: crew.get(f"{ROOT}/{name}").status_code for name in STOCK_READ}
    assert refused == dict.fromkeys(STOCK_READ, 403)
    kit = kit_of(stocked, Need(bolt.pk, 1))
    at = f"{ROOT}/kits/{kit.pk}"
    assert crew.act(f"{at}/reserve", "*").status_code == 403
    services.reserve_kit(kit.pk, at=AT)
    services.start_pulling(kit.pk)
    services.pull(kit.pk, kit.lines.get().pk, 1)
    services.stage(kit.pk)
    assert crew.act(f"{at}/load", "*").json()["status"] == "loaded"
    assert crew.act(f"{at}/use", "*").json()["status"] == "used"


def test_an_integration_reads_and_asks_for_promises(
    clients: dict[str, ApiTester], stocked: Branch, bolt: Part
) -> None:
    machine = clients["integration"]
    for name in (*READ, *STOCK_READ):
        assert machine.get(f"{ROOT}/{name}").status_code == 200
    lines = [{"part": bolt.pk, "quantity": 1}]
    body = {"branch": stocked.pk, "lines": lines}
    assert machine.post(f"{ROOT}/available-to-promise", body).status_code == 200
    assert machine.post(f"{ROOT}/reservations", body).status_code == 403
    assert machine.post(f"{ROOT}/kits", {**body, "reference": "J"}).status_code == 403


def test_read_only_writes_nothing(clients: dict[str, ApiTester], stocked: Branch) -> None:
    entries = LedgerEntry.objects.count()
    body = {"branch": stocked.pk, "lines": [{"part": 1, "quantity": 1, "cents": 1}]}
    assert clients["read_only"].post(f"{ROOT}/receipts", body).status_code in (400, 403)
    assert LedgerEntry.objects.count() == entries


def test_another_branch_does_not_exist(
    api: ApiTester, other_branch: Branch, foreign_branch: Branch, bolt: Part
) -> None:
    kit = kit_of(other_branch, Need(bolt.pk, 1), reference="theirs")
    assert api.get(f"{ROOT}/kits/{kit.pk}").status_code == 404
    assert api.get(f"{ROOT}/kits").json()["results"] == []
    assert api.get(f"{ROOT}/stock?branch={other_branch.pk}").status_code == 404
    for branch in (other_branch, foreign_branch):
        refused = open_kit(api, branch, {"part": bolt.pk, "quantity": 1})
        assert refused.json()["errors"][0]["pointer"] == "#/branch"
    asked = api.post(f"{ROOT}/cutting-plans", {"kits": [kit.pk]})
    assert asked.status_code == 400
    assert CuttingPlan.objects.count() == 0


def test_the_same_key_reserves_once(api: ApiTester, branch: Branch, bolt: Part) -> None:
    body = {"branch": branch.pk, "lines": [{"part": bolt.pk, "quantity": 60}]}
    answers = [
        api.post(f"{ROOT}/reservations", body, HTTP_IDEMPOTENCY_KEY='"once"') for _ in range(3)
    ]
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert StockLevel.objects.get().reserved == 60


def test_the_catalogue_over_http(owner: ApiTester, warehouse: ApiTester, company: Company) -> None:
    body: dict[str, Any] = {
        "company": company.pk,
        "document": {
            "schema": "parts-catalogue/1",
            "parts": [{"code": "X", "kind": "each", "description": "x", "price_cents": 5}],
        },
    }
    assert owner.post(f"{ROOT}/parts/load-catalogue", body).json() == {"parts": 1}
    body["document"]["parts"][0]["kind"] = "rod"
    refused = owner.post(f"{ROOT}/parts/load-catalogue", body)
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (400, "unknown_kind")
    assert warehouse.post(f"{ROOT}/parts/load-catalogue", body).status_code == 403
