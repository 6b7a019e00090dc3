"""Calculators: nothing is stored, so nothing is on the trail."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

from tests.api.acts import Call, Chapter, Step, World, shown

chapter = Chapter()


def _ask(name: str) -> Step:
    def asked(w: World) -> Generator[Call, Any, None]:
        yield Call(shown(f"POST calculations/{name}"), trail="")

    return asked


for _name in (
    "brace-layout",
    "screening",
    "what-if",
    "cutting-plan",
    "movement",
    "crew-plan",
    "bill-of-materials",
):
    chapter.step(f"POST calculations/{_name}")(_ask(_name))
