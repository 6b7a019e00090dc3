"""What comes back from a site, and what was spoiled there, through HTTP."""

from __future__ import annotations

from typing import Any

from contractor.api.models import Branch
from inventory.models import Part
from tests.conftest import ApiTester

ROOT = "/api/v1"


def test_scrap_on_site_over_http(warehouse: ApiTester, stocked: Branch, bolt: Part) -> None:
    api = warehouse
    lines = [{"part": bolt.pk, "quantity": 12}]
    made = api.post(f"{ROOT}/kits", {"branch": stocked.pk, "reference": "J-1", "lines": lines})
    at, line = f"{ROOT}/kits/{made.json()['id']}", made.json()["lines"][0]["id"]
    kit = made
    for name in ("reserve", "start-pulling", "pull", "stage", "load"):
        body = {"line": line, "quantity": 12} if name == "pull" else {}
        kit = api.act(f"{at}/{name}", kit["ETag"], body)
    bent = [{"line": line, "quantity": 2}]
    refusals: list[tuple[dict[str, Any], int, str]] = [
        ({}, 400, "invalid_value"),
        ({"scrapped": bent}, 400, "invalid_value"),
        ({"lines": [], "scrapped": bent, "reason": "bent"}, 400, "invalid_input"),
        ({"lines": bent, "reason": "bent"}, 400, "invalid_value"),
        ({"scrapped": [{"line": line, "quantity": 0}], "reason": "bent"}, 400, "invalid_input"),
        ({"scrapped": [{"line": line + 99, "quantity": 1}], "reason": "bent"}, 404, "not_found"),
        ({"scrapped": bent * 7, "reason": "bent"}, 409, "more_than_wanted"),
    ]
    for body, status, code in refusals:
        refused = api.act(f"{at}/return", kit["ETag"], body)
        assert (refused.status_code, refused.json()["code"]) == (status, code), body
        assert refused.json()["remedy"]
    done = api.act(f"{at}/return", kit["ETag"], {"scrapped": bent * 2, "reason": "bent"})
    assert (done.status_code, done.json()["status"]) == (200, "returned"), done.json()
    (row,) = done.json()["lines"]
    assert (row["returned"], row["scrapped"], row["used"]) == (0, 4, 8)
    assert (row["cents"], row["scrapped_cents"], row["scrap_reason"]) == (1_560, 520, "bent")
    day = row["scrapped_at"][:4]
    where = f"branch={stocked.pk}&first={day}-01-01"
    (month,) = api.get(f"{ROOT}/saw-report?{where}").json()["months"]
    assert (month["site_scrap"], month["site_scrap_cents"]) == (4, 520)
