"""A stocked company whose people work over HTTP."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from contractor.api.models import Branch, Company
from inventory.services.catalogue import load_catalogue
from tests.conftest import ApiTester

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"


@pytest.fixture
def survey() -> Callable[..., dict[str, Any]]:
    """Return a function: ``survey("window", wall={"fill_height": "9 ft"})``."""

    def make(name: str = "perpendicular-16", **changes: Any) -> dict[str, Any]:
        document: dict[str, Any] = json.loads((FIXTURES / "surveys" / f"{name}.json").read_text())
        document = copy.deepcopy(document)
        for member, value in changes.items():
            if isinstance(value, dict) and isinstance(document.get(member), dict):
                document[member] = {**document[member], **value}
            else:
                document[member] = value
        return document

    return make


@pytest.fixture
def stocked(company: Company, branch: Branch) -> Branch:
    """The branch of a company that has the demonstration's catalogue."""
    branch.latitude, branch.longitude = 42.0, -74.0
    branch.save()
    catalogue = json.loads((FIXTURES / "parts.json").read_text())
    load_catalogue(catalogue, company_pk=company.pk)
    return branch


@pytest.fixture
def site_key(owner: ApiTester, stocked: Branch) -> int:
    customer = owner.post(
        "/api/v1/customers",
        {"branch": stocked.pk, "name": "M. Alder", "email": "alder@example.org"},
    )
    assert customer.status_code == 201, customer.json()
    site = owner.post(
        "/api/v1/sites",
        {
            "branch": stocked.pk,
            "customer": customer.json()["id"],
            "label": "12 Alder Lane",
            "latitude": 42.1,
            "longitude": -74.1,
            "time_zone": "America/New_York",
        },
    )
    assert site.status_code == 201, site.json()
    key: int = site.json()["id"]
    return key


@pytest.fixture
def post_survey(owner: ApiTester, site_key: int) -> Callable[[dict[str, Any]], Any]:
    def post(document: dict[str, Any]) -> Any:
        return owner.post(
            "/api/v1/surveys",
            {
                "site": site_key,
                "wall": "north wall",
                "measured_on": "2026-02-02",
                "document": document,
            },
        )

    return post
