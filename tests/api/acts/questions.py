"""Calculators: nothing is stored, so nothing is on the trail."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

from contractor.api.examples import fixture
from tests.api.acts import Call, Chapter, Step, World, shown

chapter = Chapter()


def _ask(name: str) -> Step:
    def asked(w: World) -> Generator[Call, Any, None]:
        yield Call(shown(f"POST calculations/{name}"), trail="")

    return asked


for _name in ("brace-layout", "screening", "what-if", "cutting-plan", "movement", "crew-plan"):
    chapter.step(f"POST calculations/{_name}")(_ask(_name))


@chapter.step("POST calculations/bill-of-materials")
def bill_of_materials(w: World) -> Generator[Call, Any, None]:
    survey = shown("POST calculations/brace-layout")
    body = {
        "schema": "bill-request/1",
        "name": "one wall",
        "walls": [
            {
                "name": "north",
                "survey": survey,
                "layout": w.post("calculations/brace-layout", survey),
            }
        ],
        "parts": fixture("parts.json"),
        "rates": fixture("rates.json"),
    }
    yield Call(body, trail="")
