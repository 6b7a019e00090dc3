"""The recount finds a planted fault of every kind it knows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from contractor.engine.materials import bill_document
from contractor.engine.materials.check import check_bill
from tests.engine.materials.walls import line, parallel, request, survey

Document = dict[str, Any]


def posted() -> Document:
    return request(
        survey(features=[line()]),
        survey("south wall", framing=parallel(), slab={"thickness": "4 in", "edge_gap": "1 in"}),
    )


def row(bill: Document, role: str) -> Document:
    found: Document = next(line for line in bill["lines"] if line["role"] == role)
    return found


def cost(bill: Document, what: str) -> Document:
    found: Document = next(line for line in bill["cost"]["lines"] if line["what"] == what)
    return found


def piece(bill: Document, role: str) -> Document:
    found: Document = row(bill, role)["pieces"][0]
    return found


FAULTS: list[tuple[str, Callable[[Document], object]]] = [
    ("homeowner_kit", lambda b: row(b, "homeowner_kit").update(count=2)),
    ("lifting_caution", lambda b: b["lifting"].update(caution=None)),
    ("beam_count", lambda b: row(b, "beam")["pieces"].pop()),
    ("beam_length", lambda b: piece(b, "beam").update(length="7 ft")),
    ("wrong_beam", lambda b: row(b, "beam").update(part="BM-S4X7P7-A36")),
    ("wrong_count", lambda b: row(b, "anchor").update(count=9)),
    ("wrong_count", lambda b: row(b, "sealant").update(count=9)),
    ("bolt_too_short", lambda b: row(b, "through_bolt").update(part="WA-58")),
    ("furring", lambda b: piece(b, "furring").update(length="1 ft")),
    ("furring", lambda b: row(b, "furring_screw").update(count=1)),
    ("block_count", lambda b: row(b, "blocking")["pieces"].pop()),
    ("block_length", lambda b: piece(b, "blocking").update(length="15 in")),
    ("fasteners", lambda b: row(b, "nail").update(count=100)),
    ("wrong_part", lambda b: row(b, "label").update(part="NA-16D")),
    ("origin_missing", lambda b: row(b, "label").update(because="")),
    ("origin_missing", lambda b: b["cost"]["lines"][0].update(origin="")),
    ("weight", lambda b: row(b, "beam")["weight"].update(value=1.0)),
    ("packs", lambda b: row(b, "nail")["packs"].update(count=99)),
    ("cost_line", lambda b: b["cost"]["lines"][0].update(cents=1)),
    ("cost_line", lambda b: cost(b, "Sawing beams").update(cents=1)),
    ("cost_line", lambda b: b["cost"]["lines"].pop(0)),
    ("labour", lambda b: cost(b, "Clean up").update(cents=1)),
    ("labour", lambda b: b["cost"]["labour"].update(value=1.0)),
    ("travel", lambda b: cost(b, "Mileage").update(cents=1)),
    ("travel", lambda b: b["cost"].update(trips=9)),
    ("cost_total", lambda b: b["cost"].update(labour_cents=1)),
    ("cost_total", lambda b: b["cost"].update(total_cents=1)),
]


def test_a_true_bill_has_no_violation() -> None:
    request_ = posted()
    assert check_bill(request_, bill_document(request_), request_["parts"], request_["rates"]) == []


@pytest.mark.parametrize(("code", "plant"), FAULTS)
def test_planted_faults_are_found(code: str, plant: Callable[[Document], object]) -> None:
    request_ = posted()
    bill = bill_document(request_)
    plant(bill)
    if code == "bolt_too_short":
        request_["parts"]["parts"] = [
            part | ({"length": "1 in"} if part["code"] == "WA-58" else {})
            for part in request_["parts"]["parts"]
        ]
    found = check_bill(request_, bill, request_["parts"], request_["rates"])
    assert code in {violation.code for violation in found}


def test_every_code_has_a_fault() -> None:
    import inspect
    import re

    from contractor.engine.materials import check, check_money

    source = inspect.getsource(check) + inspect.getsource(check_money)
    codes = set(re.findall(r'(?:Violation\(|yield )"([a-z_]+)"', source))
    assert codes == {code for code, _ in FAULTS}
