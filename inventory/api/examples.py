"""Bodies that the reference shows for this app; a test sends every one of them."""

from __future__ import annotations

from contractor.api.examples import Examples

BARS = {"part": 2, "length": "20 ft", "quantity": 4, "cents": 64_080}
LINES = [{"part": 2, "length": "8 ft 1/4 in", "quantity": 2, "mark": "B1"}]

EXAMPLES: Examples = {
    "POST /parts": {
        "company": 1,
        "code": "W4X13",
        "description": "Steel beam W4x13",
        "kind": "bar",
        "grade": "A992",
        "weight_per_length": {"value": 13, "unit": "lb/ft"},
        "kerf": "1/8 in",
        "min_offcut": "2 ft",
    },
    "POST /parts/bulk": {
        "rows": [{"company": 1, "code": "NUT-12", "description": "Hex nut 1/2", "kind": "each"}],
    },
    "PATCH /parts/{id}": {"description": "Steel beam W4x13, painted"},
    "POST /parts/load-catalogue": {
        "company": 1,
        "document": {
            "schema": "parts-catalogue/1",
            "name": "price list",
            "parts": [
                {"code": "TAPE", "kind": "each", "description": "Tape", "price_cents": 900},
            ],
        },
    },
    "POST /suppliers": {"company": 1, "name": "Valley Steel Supply", "lead_days": 5},
    "PATCH /suppliers/{id}": {"lead_days": 7},
    "POST /supplier-prices": {"supplier": 4, "part": 2, "length": "20 ft", "pack_cents": 16_020},
    "POST /reorder-rules": {
        "branch": 3,
        "part": 2,
        "length": "20 ft",
        "point": 4,
        "order_up_to": 12,
    },
    "POST /bins": {"branch": 3, "name": "rack 4"},
    "POST /stock-levels/{id}/move-to-bin": {"bin": 6, "count": 10},
    "POST /stock-lengths/{id}/move-to-bin": {"bin": 6, "count": 1},
    "POST /offcuts/{id}/move-to-bin": {"bin": 6, "count": 1},
    "POST /receipts": {
        "branch": 3,
        "reference": "delivery note 118",
        "lines": [BARS, {"part": 5, "packs": 2, "cents": 13_000}],
    },
    "POST /supplier-orders": {
        "branch": 3,
        "supplier": 4,
        "reference": "PO 77",
        "lines": [{**BARS, "promised_on": "2026-03-10"}],
    },
    "POST /supplier-orders/{id}/change-promise": {"line": 9, "promised_on": "2026-03-17"},
    "POST /supplier-orders/{id}/receive": {
        "reference": "delivery note 119",
        "lines": [{**BARS, "order_line": 9}],
    },
    "POST /counts": {
        "branch": 3,
        "part": 2,
        "length": "10 ft",
        "found": 2,
        "reason": "found behind the rack",
    },
    "POST /counts/adjust": {"branch": 3, "stock_length": 7, "change": -1, "reason": "bent"},
    "POST /transfers": {
        "branch": 3,
        "to_branch": 2,
        "expected_on": "2026-03-05",
        "lines": [{"stock_length": 7, "count": 1}],
    },
    "POST /incoming-transfers/{id}/arrive": {
        "lines": [{"line": 5, "arrived": 0}],
        "reason": "not on the truck",
    },
    "POST /reservations": {"branch": 3, "reference": "show house", "lines": LINES},
    "POST /available-to-promise": {"branch": 3, "needed_on": "2026-03-20", "lines": LINES},
    "POST /kits": {
        "branch": 3,
        "reference": "12 Alder Lane",
        "needed_on": "2026-03-20",
        "lines": [*LINES, {"part": 5, "quantity": 8}],
    },
    "POST /kits/{id}/reserve": {"expires_at": "2026-12-31T12:00:00-05:00"},
    "POST /kits/{id}/pull": {"line": 31, "quantity": 2},
    "POST /kits/{id}/short": {"line": 31, "quantity": 1, "reason": "box was empty"},
    "POST /kits/{id}/substitute": {
        "line": 31,
        "part": 6,
        "quantity": 1,
        "reason": "longer bolt, same grade",
    },
    "POST /kits/{id}/remeasure": {"line": 30, "length": "8 ft 1/2 in"},
    "POST /kits/{id}/return": {
        "lines": [{"line": 31, "quantity": 2}],
        "scrapped": [{"line": 31, "quantity": 1}],
        "reason": "bent in the hole",
    },
    "POST /kits/{id}/take-over": {"donors": [12]},
    "POST /cutting-plans": {"kits": [11]},
    "POST /cutting-plans/{id}/record-sawn": {"bar": 14, "left": "3 ft 10 in"},
    "POST /cutting-plans/{id}/record-mis-cut": {
        "piece": 40,
        "reason": "cut on the wrong side of the line",
        "actual": "7 ft 11 in",
    },
    "POST /cutting-plans/{id}/record-scrapped": {"piece": 41, "reason": "bent in the vice"},
}
