"""``what-if-request/1``: one survey and the changes to look at side by side.

``{"schema", "survey": wall-survey/1, "variants": [{"name", "shape"?, "grade"?, "soil"?,
"fill_height"?, "spacing_max"?}]}``; soil, fill height and spacing are written as in a survey.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from contractor.engine.data.steel_shapes import shapes
from contractor.engine.errors import InputError
from contractor.engine.screening.hardware import DEFAULT_SHAPE
from contractor.engine.screening.whatif import Variant
from contractor.engine.survey import Survey
from contractor.engine.survey_reader import read_survey
from contractor.engine.units import read_length

SCHEMA = "what-if-request/1"
MOST_VARIANTS = 40
MEMBERS = {"name", "shape", "grade", "soil", "fill_height", "spacing_max"}


def read_what_if(document: object) -> tuple[Survey, list[Variant]]:
    """Return the survey and its variants. Raises InputError."""
    if not isinstance(document, dict) or document.get("schema") != SCHEMA:
        raise InputError("wrong_schema", "/schema", f"This is not {SCHEMA}.", "Set schema to it.")
    rows = document.get("variants")
    if not isinstance(rows, list) or not 1 <= len(rows) <= MOST_VARIANTS:
        raise InputError(
            "variants_malformed",
            "/variants",
            f"A list of 1 to {MOST_VARIANTS} variants is needed.",
            'Give each a name and what differs, such as {"name": "as is"}.',
        )
    survey = _survey(document.get("survey"), "/survey")
    return survey, [_variant(document["survey"], row, i) for i, row in enumerate(rows)]


def _survey(document: object, pointer: str) -> Survey:
    try:
        return read_survey(document)
    except InputError as error:
        raise InputError(error.code, pointer + error.pointer, error.reason, error.remedy) from error


def _variant(survey: Mapping[str, Any], row: object, number: int) -> Variant:
    pointer = f"/variants/{number}"
    if not isinstance(row, dict):
        raise InputError("not_an_object", pointer, "A variant is an object.", "Give its name.")
    for name in row:
        if name not in MEMBERS:
            known = ", ".join(sorted(MEMBERS))
            raise InputError(
                "unknown_member", f"{pointer}/{name}", "There is no such member.", f"Use {known}."
            )
    changed = dict(survey)
    if row.get("soil") is not None:
        changed["soil"] = row["soil"]
    if row.get("fill_height") is not None:
        changed["wall"] = {**survey["wall"], "fill_height": row["fill_height"]}
    read = _survey(changed, pointer)
    spacing = row.get("spacing_max")
    return Variant(
        name=_text(row, "name", pointer) or f"variant {number + 1}",
        shape=_shape(_text(row, "shape", pointer), f"{pointer}/shape"),
        grade=_text(row, "grade", pointer),
        soil=read.soil if row.get("soil") is not None else None,
        fill_height_ticks=read.wall.fill_height_ticks if row.get("fill_height") else None,
        spacing_max_ticks=None
        if spacing is None
        else read_length(spacing, f"{pointer}/spacing_max"),
    )


def _text(row: Mapping[str, Any], name: str, pointer: str) -> str | None:
    value = row.get(name)
    if value is None or (isinstance(value, str) and 0 < len(value) <= 60):
        return value
    raise InputError("not_a_name", f"{pointer}/{name}", "This is not a name.", "Give a short text.")


def _shape(name: str | None, pointer: str) -> str:
    if name is not None and name not in shapes():
        known = ", ".join(sorted(shapes()))
        raise InputError("unknown_shape", pointer, f"There is no shape {name!r}.", f"Use {known}.")
    return name or DEFAULT_SHAPE
