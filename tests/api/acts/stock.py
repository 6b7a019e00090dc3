"""The warehouse: parts, prices, receipts, orders, counts, transfers, holds."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.models import SupplierOrderLine, TransferLine
from tests.api.acts import Call, Chapter, World, shown

chapter = Chapter()
step = chapter.step
Steps = Generator[Call, Any, None]


def bolt(w: World, code: str = "BOLT") -> dict[str, Any]:
    """A part that comes in boxes of fifty."""
    return {
        "company": w.branch.company_id,
        "code": code,
        "description": "Hex bolt 1/2 x 3",
        "kind": "consumable",
        "pack_name": "box",
        "pack_size": 50,
    }


def file_of(text: str) -> dict[str, Any]:
    return {"file": SimpleUploadedFile("list.csv", text.encode())}


@step("POST parts")
def add_part(w: World) -> Steps:
    w["beam"] = yield Call(shown("POST parts", company=w.branch.company_id))
    w["bolt"] = w.post("parts", bolt(w))


@step("POST parts/bulk")
def add_parts(w: World) -> Steps:
    body = shown("POST parts/bulk", rows_0_company=w.branch.company_id)
    answer = yield Call(body, own=frozenset({"company"}))
    assert answer["stored"] == 1, answer


@step("PATCH parts/{pk}")
def change_part(w: World) -> Steps:
    yield Call(shown("PATCH parts/{pk}"), w["beam"]["id"])


@step("POST parts/load-catalogue")
def load_catalogue(w: World) -> Steps:
    yield Call(shown("POST parts/load-catalogue", company=w.branch.company_id))


@step("POST parts/import")
def import_parts(w: World) -> Steps:
    rows = "code,description,kind\nNUT,Hex nut 1/2,consumable\n"
    yield Call(file_of(rows), multipart=True)


@step("POST suppliers")
def add_supplier(w: World) -> Steps:
    w["supplier"] = yield Call(shown("POST suppliers", company=w.branch.company_id))


@step("PATCH suppliers/{pk}")
def change_supplier(w: World) -> Steps:
    yield Call(shown("PATCH suppliers/{pk}"), w["supplier"]["id"])


@step("POST supplier-prices")
def set_price(w: World) -> Steps:
    keys = {"supplier": w["supplier"]["id"], "part": w["beam"]["id"]}
    yield Call(shown("POST supplier-prices", **keys))


@step("POST supplier-prices/import")
def import_prices(w: World) -> Steps:
    rows = "supplier_name,part_code,pack_size,pack_cents\nValley Steel Supply,BOLT,50,6500\n"
    yield Call(file_of(rows), multipart=True)


@step("POST reorder-rules")
def set_rule(w: World) -> Steps:
    yield Call(shown("POST reorder-rules", branch=w.branch.pk, part=w["beam"]["id"]))


@step("POST bins")
def add_bin(w: World) -> Steps:
    w["bin"] = yield Call(shown("POST bins", branch=w.branch.pk))


@step("POST receipts")
def receive(w: World) -> Steps:
    parts = {"lines_0_part": w["beam"]["id"], "lines_1_part": w["bolt"]["id"]}
    yield Call(shown("POST receipts", branch=w.branch.pk, **parts))


@step("POST receipts/import")
def import_receipt(w: World) -> Steps:
    rows = "part_code,length,quantity,cents,lot_number\nW4X13,20 ft,2,32040,HEAT-1\n"
    body = {**file_of(rows), "place": w.branch.pk, "reference": "opening stock"}
    yield Call(body, multipart=True)


@step("POST lots/{pk}/attach-certificate")
def attach_certificate(w: World) -> Steps:
    (lot,) = w.get("lots")["results"]
    body = {"file": SimpleUploadedFile("heat.pdf", b"%PDF-1.7 certificate")}
    yield Call(body, lot["id"], multipart=True)


@step("POST stock-levels/{pk}/move-to-bin")
def move_bolts(w: World) -> Steps:
    (level,) = w.get("stock-levels")["results"]
    w["level"] = level
    body = shown("POST stock-levels/{pk}/move-to-bin", bin=w["bin"]["id"])
    yield Call(body, level["id"])


@step("POST stock-lengths/{pk}/move-to-bin")
def move_bars(w: World) -> Steps:
    bars = w.get("stock-lengths")["results"]
    w["bars"] = next(row for row in bars if row["lot"] is None)
    body = shown("POST stock-lengths/{pk}/move-to-bin", bin=w["bin"]["id"])
    yield Call(body, w["bars"]["id"])


@step("POST offcuts/{pk}/move-to-bin")
def move_offcut(w: World) -> Steps:
    body = {
        "branch": w.branch.pk,
        "part": w["beam"]["id"],
        "length": "5 ft",
        "found": 1,
        "is_offcut": True,
        "reason": "found",
    }
    w.post("counts", body)
    (offcut,) = w.get("offcuts")["results"]
    yield Call(shown("POST offcuts/{pk}/move-to-bin", bin=w["bin"]["id"]), offcut["id"])


@step("POST supplier-orders")
def order(w: World) -> Steps:
    keys = {"supplier": w["supplier"]["id"], "lines_0_part": w["beam"]["id"]}
    body = shown("POST supplier-orders", branch=w.branch.pk, **keys)
    w["order"] = yield Call(body)
    w["unwanted"] = w.post("supplier-orders", body)


@step("POST supplier-orders/{pk}/place")
def place_order(w: World) -> Steps:
    yield Call(None, w["order"]["id"])


@step("POST supplier-orders/{pk}/change-promise")
def change_promise(w: World) -> Steps:
    line = w["order"]["lines"][0]["id"]
    body = shown("POST supplier-orders/{pk}/change-promise", line=line)
    yield Call(body, w["order"]["id"], {"line": SupplierOrderLine})


@step("POST supplier-orders/{pk}/receive")
def receive_order(w: World) -> Steps:
    line = w["order"]["lines"][0]["id"]
    keys = {"lines_0_part": w["beam"]["id"], "lines_0_order_line": line}
    body = shown("POST supplier-orders/{pk}/receive", **keys)
    yield Call(body, w["order"]["id"], {"order_line": SupplierOrderLine})


@step("POST supplier-orders/{pk}/cancel")
def cancel_order(w: World) -> Steps:
    yield Call(None, w["unwanted"]["id"])


@step("POST counts")
def count(w: World) -> Steps:
    yield Call(shown("POST counts", branch=w.branch.pk, part=w["beam"]["id"]))


@step("POST counts/adjust")
def adjust(w: World) -> Steps:
    keys = {"branch": w.branch.pk, "stock_length": w["bars"]["id"]}
    yield Call(shown("POST counts/adjust", **keys))


@step("POST transfers")
def transfer(w: World) -> Steps:
    keys = {"to_branch": w.other.pk, "lines_0_stock_length": w["bars"]["id"]}
    w["transfer"] = yield Call(shown("POST transfers", branch=w.branch.pk, **keys))


@step("POST incoming-transfers/{pk}/arrive")
def arrive(w: World) -> Steps:
    line = w["transfer"]["lines"][0]["id"]
    body = shown("POST incoming-transfers/{pk}/arrive", lines_0_line=line)
    yield Call(body, w["transfer"]["id"], {"line": TransferLine}, client=w.other_owner)


@step("POST reservations")
def reserve(w: World) -> Steps:
    keys = {"branch": w.branch.pk, "lines_0_part": w["beam"]["id"]}
    w["hold"] = yield Call(shown("POST reservations", **keys), trail="events")


@step("POST reservations/{pk}/release")
def release(w: World) -> Steps:
    yield Call(None, w["hold"]["id"], trail="events")


@step("POST available-to-promise")
def promise(w: World) -> Steps:
    keys = {"branch": w.branch.pk, "lines_0_part": w["beam"]["id"]}
    yield Call(shown("POST available-to-promise", **keys), trail="")
