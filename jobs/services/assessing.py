"""One survey through the engine, with the company's own catalogue, rates, hardware and rules."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from django.conf import settings

from contractor.api.models import Company
from contractor.engine.chain import Shop
from contractor.engine.chain import assess as assess_wall
from contractor.engine.materials.catalogue import read_catalogue
from contractor.engine.materials.hardware import read_hardware
from contractor.engine.materials.rates import read_rates
from contractor.engine.screening.version import ENGINE_VERSION
from inventory.sheets import catalogue_document

RATES = Path(settings.BASE_DIR) / "fixtures" / "rates.json"


@dataclass(frozen=True)
class Assessment:
    """Documents of one wall, and the figures that a job adds up.

    ``input_hash`` covers survey, settings and engine version: equal hash, equal documents.
    ``bill`` is None where no layout meets the rules.
    """

    layout: dict[str, Any]
    screening: dict[str, Any]
    bill: dict[str, Any] | None
    drawings: dict[str, str]
    input_hash: str

    @property
    def labour_minutes(self) -> int:
        return round(float(self.bill["cost"]["labour"]["value"]) * 60) if self.bill else 0

    @property
    def weight_lb(self) -> float:
        return float(self.bill["lifting"]["total"]["value"]) if self.bill else 0.0

    @property
    def cost_cents(self) -> int:
        return int(self.bill["cost"]["total_cents"]) if self.bill else 0


def assess(document: dict[str, Any], company: Company) -> Assessment:
    """Lay out, screen, count and draw one ``wall-survey/1``. Raises InputError."""
    choices = company_choices(company)
    survey, shop = with_rules(document, choices["layout_rules"]), shop_of(choices)
    answer = assess_wall(survey, shop, has_sheets=True)
    drawings = {"elevation": answer["drawing"], "framing_plan": answer["framing_plan"]}
    drawings |= answer["sheet_drawings"]
    return Assessment(
        layout=answer["layout"],
        screening=answer["screening"],
        bill=answer["bill"],
        drawings={name: text for name, text in drawings.items() if text is not None},
        input_hash=hash_of({"survey": document, "choices": choices}),
    )


def company_choices(company: Company) -> dict[str, Any]:
    """Return catalogue, rates, hardware and layout rules of a company, defaults filled in."""
    own = company.settings
    return {
        "parts": catalogue_document(company),
        "rates": own.get("rates") or default_rates(),
        "hardware": own.get("hardware"),
        "layout_rules": own.get("layout_rules", {}),
    }


def shop_of(choices: Mapping[str, Any]) -> Shop:
    """Return what the engine works with; the same choices are read once."""
    read = {name: choices[name] for name in ("parts", "rates", "hardware")}
    return _read_shop(json.dumps(read, sort_keys=True))


@lru_cache(maxsize=8)
def _read_shop(text: str) -> Shop:
    choices = json.loads(text)
    return Shop(
        catalogue=read_catalogue(choices["parts"]),
        rates=read_rates(choices["rates"]),
        hardware=read_hardware(choices["hardware"]),
    )


@cache
def default_rates() -> dict[str, Any]:
    """Return the rates of a company that has not entered its own."""
    rates: dict[str, Any] = json.loads(RATES.read_text())
    return rates


def with_rules(document: dict[str, Any], rules: Mapping[str, Any]) -> dict[str, Any]:
    """Return the survey with the company's layout ``rules`` under its own."""
    own = document.get("rules") or {}
    return {**document, "rules": {**rules, **own}} if rules else document


def hash_of(inputs: Mapping[str, Any]) -> str:
    """Return the SHA-256 of the canonical JSON of ``inputs`` and the engine version."""
    text = json.dumps({**inputs, "engine": ENGINE_VERSION}, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
