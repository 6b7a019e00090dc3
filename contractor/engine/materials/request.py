"""Walls of a ``bill-request/1``: surveys and the braces of their ``brace-layout/1``."""

from __future__ import annotations

from contractor.engine.errors import InputError
from contractor.engine.materials.fields import (
    read_count,
    read_list,
    read_object,
    read_optional_text,
    read_schema,
    read_text,
    read_texts,
)
from contractor.engine.materials.work import PlacedBrace, WallWork
from contractor.engine.survey import Survey
from contractor.engine.survey_reader import read_survey
from contractor.engine.units import read_length

_BRACE = {
    *("mark", "at", "joist", "side", "specials", "furring_layers", "beam_length", "basis"),
    "because",
}


def read_wall(row: object, i: int) -> WallWork:
    pointer = f"/walls/{i}"
    members = read_object(row, pointer, {"name", "survey", "layout"})
    survey = _read_survey_at(members.get("survey"), f"{pointer}/survey")
    braces = read_braces(members.get("layout"), f"{pointer}/layout")
    for j, brace in enumerate(braces):
        if not 0 <= brace.at_ticks <= survey.wall.length_ticks:
            raise InputError(
                "brace_outside_wall",
                f"{pointer}/layout/braces/{j}/at",
                f"{brace.mark} is outside the wall.",
                "Lay the braces out again for this survey.",
            )
    name = read_optional_text(members.get("name"), f"{pointer}/name")
    return WallWork(name or survey.name or f"wall {i + 1}", survey, braces)


def _read_survey_at(document: object, pointer: str) -> Survey:
    """Read a survey inside another document, with pointers from that document's root."""
    try:
        return read_survey(document)
    except InputError as error:
        raise InputError(error.code, pointer + error.pointer, error.reason, error.remedy) from error


def check_names(walls: list[WallWork]) -> list[WallWork]:
    names = [wall.name for wall in walls]
    for i, name in enumerate(names):
        if name in names[:i]:
            raise InputError(
                "wall_twice",
                f"/walls/{i}/name",
                f"Two walls are called {name!r}.",
                "Give each wall of a job its own name.",
            )
    return walls


def read_braces(document: object, pointer: str) -> tuple[PlacedBrace, ...]:
    """Read the braces of a ``brace-layout/1`` document. Raises InputError."""
    read_schema(document, "brace-layout/1", pointer)
    assert isinstance(document, dict)
    if document.get("no_answer") is not None:
        raise InputError(
            "layout_without_answer",
            f"{pointer}/no_answer",
            "The layout found no answer, so there is nothing to count.",
            "Change what the layout says would help, and lay out again.",
        )
    rows = read_list(document.get("braces"), f"{pointer}/braces", most=500, least=0)
    return tuple(_read_brace(row, f"{pointer}/braces/{j}") for j, row in enumerate(rows))


def _read_brace(row: object, pointer: str) -> PlacedBrace:
    members = read_object(row, pointer, _BRACE)
    return PlacedBrace(
        mark=read_text(members.get("mark"), f"{pointer}/mark", most=20),
        at_ticks=read_length(members.get("at"), f"{pointer}/at"),
        beam_ticks=read_length(members.get("beam_length"), f"{pointer}/beam_length"),
        is_measured=members.get("basis") == "measured",
        furring_layers=read_count(
            members.get("furring_layers", 0), f"{pointer}/furring_layers", most=20
        ),
        specials=read_texts(members.get("specials"), f"{pointer}/specials"),
    )
