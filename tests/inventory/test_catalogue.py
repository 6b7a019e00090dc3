from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from contractor.api.models import Company
from contractor.engine.errors import InputError
from contractor.errors import NotFoundError
from inventory import services
from inventory.models import Part, SupplierPart
from inventory.sheets import catalogue_document

FIXTURE = Path(__file__).parents[2] / "fixtures" / "parts.json"


@pytest.fixture
def document() -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(FIXTURE.read_text())
    return loaded


def test_the_shipped_catalogue_loads_and_loads_again(
    company: Company, document: dict[str, Any]
) -> None:
    count = services.load_catalogue(document, company_pk=company.pk)
    assert count == len(document["parts"]) == Part.objects.count()
    versions = list(Part.objects.order_by("pk").values_list("version", flat=True))
    services.load_catalogue(document, company_pk=company.pk)
    assert list(Part.objects.order_by("pk").values_list("version", flat=True)) == versions
    beam = Part.objects.get(code="BM-S4X7P7-A36")
    assert (beam.kind, beam.grade, beam.weight_plf) == ("bar", "A36", 7.7)
    lengths = beam.price_list.order_by("length_ticks").values_list("length_ticks", flat=True)
    assert list(lengths) == [20 * 768, 24 * 768, 40 * 768]
    washer = Part.objects.get(code="FW-12")
    assert (washer.pack_size, washer.price_list.get().pack_cents) == (100, 1180)


def test_the_catalogue_comes_out_as_it_went_in(company: Company, document: dict[str, Any]) -> None:
    """Lengths change their spelling, everything else is the same."""
    services.load_catalogue(document, company_pk=company.pk)
    again = {row["code"]: row for row in catalogue_document(company)["parts"]}
    for row in document["parts"]:
        got = dict(again[row["code"]])
        expected = dict(row)
        prices = [one["price_cents"] for one in expected.pop("stock", [])]
        assert [one["price_cents"] for one in got.pop("stock", [])] == prices
        assert got == expected


def test_a_changed_price_replaces_the_old_one(company: Company, document: dict[str, Any]) -> None:
    services.load_catalogue(document, company_pk=company.pk)
    count = SupplierPart.objects.count()
    document["parts"][0]["stock"][0]["price_cents"] = 1
    services.load_catalogue(document, company_pk=company.pk)
    assert SupplierPart.objects.count() == count
    assert SupplierPart.objects.filter(pack_cents=1).count() == 1


@pytest.mark.parametrize(
    ("change", "code", "pointer"),
    [
        ({"kind": "rod"}, "unknown_kind", "/parts/1/kind"),
        ({"code": 7}, "not_text", "/parts/1/code"),
        ({"description": "x" * 201}, "not_text", "/parts/1/description"),
        ({"stock": [{"length": "20", "price_cents": 5}]}, "length", "/parts/1/stock/0/length"),
        (
            {"stock": [{"length": "20 ft", "price_cents": -5}]},
            "not_a_whole_number",
            "/parts/1/stock/0/price_cents",
        ),
        ({"weight_per_length": 5.7}, "quantity_without_unit", "/parts/1/weight_per_length"),
        ({"lead_time_days": 2.5}, "not_a_whole_number", "/parts/1/lead_time_days"),
        ({"code": "BM-S3X5P7-A36"}, "duplicate_id", "/parts/1/code"),
    ],
)
def test_a_bad_catalogue_writes_nothing(
    company: Company,
    document: dict[str, Any],
    change: dict[str, Any],
    code: str,
    pointer: str,
) -> None:
    document["parts"][1] |= change
    with pytest.raises(InputError) as refused:
        services.load_catalogue(document, company_pk=company.pk)
    assert refused.value.code.startswith(code)
    assert refused.value.pointer.startswith(pointer)
    assert Part.objects.count() == 0


def test_the_kind_of_a_part_stays(company: Company, document: dict[str, Any]) -> None:
    """Units and bars lie in places of different kinds: the ledger of a part hangs on its kind."""
    services.load_catalogue(document, company_pk=company.pk)
    before = list(Part.objects.order_by("pk").values())
    document["parts"][0]["description"] = "changed"
    document["parts"][1]["kind"] = "each"
    with pytest.raises(InputError) as refused:
        services.load_catalogue(document, company_pk=company.pk)
    assert (refused.value.code, refused.value.pointer) == ("kind_stays", "/parts/1/kind")
    assert list(Part.objects.order_by("pk").values()) == before


def test_another_document_is_no_catalogue(company: Company) -> None:
    for document in ({}, {"schema": "parts-catalogue/1"}, {"schema": "wall-survey/1"}):
        with pytest.raises(InputError):
            services.load_catalogue(document, company_pk=company.pk)
    with pytest.raises(NotFoundError):
        services.load_catalogue({"schema": "parts-catalogue/1", "parts": []}, company_pk=0)
