"""The calculators: run the engine on a posted document. No account data is read or written.

Engine modules with solvers are imported by the functions that run them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from contractor.engine.errors import InputError
from contractor.engine.units import System, read_length

Document = dict[str, Any]
MAX_BRACES = 200


@dataclass(frozen=True)
class Limits:
    """What a run may use, and how it hears and says things meanwhile."""

    seconds: float
    cancelled: Callable[[], bool] = lambda: False
    progress: Callable[[Document], None] = lambda _: None


@dataclass(frozen=True)
class Calculation:
    """``takes_time`` marks solvers: their answers depend on the seconds given."""

    name: str
    reads: str
    writes: str
    run: Callable[[Any, System, Limits], Document]
    takes_time: bool = False


def brace_layout(document: Any, system: System, limits: Limits) -> Document:
    """wall-survey/1 -> brace-layout/1, within the spacing that the screening carries."""
    from contractor.engine.screened_layout import lay_out_screened
    from contractor.engine.survey_reader import read_survey

    return lay_out_screened(read_survey(document)).document(system)


def screening(document: Any, system: System, limits: Limits) -> Document:
    """``{"survey": wall-survey/1, "positions"?, "shape"?, "grade"?}`` -> screening document.

    ``positions`` are lengths from the left corner; without them the layout is worked out.
    """
    from contractor.engine.layout.braces import lay_out
    from contractor.engine.screening.document import screening_document
    from contractor.engine.screening.hardware import DEFAULT_SHAPE
    from contractor.engine.screening.screen import screen
    from contractor.engine.screening.spacing import spacing_limit

    members = _members(document, {"survey", "positions", "shape", "grade"})
    survey = _survey_at(members.get("survey"))
    shape = _name(members, "shape") or DEFAULT_SHAPE
    grade = _name(members, "grade")
    positions = _positions(members.get("positions"))
    if positions is not None:
        return screening_document(screen(survey, positions, shape=shape, grade=grade), system)
    limit = spacing_limit(survey, shape=shape, grade=grade)
    layout = lay_out(survey, spacing_limit_ticks=limit.ticks)
    found = screen(survey, layout, shape=shape, grade=grade, limit=limit)
    return screening_document(found, system)


def what_if(document: Any, system: System, limits: Limits) -> Document:
    """what-if-request/1 -> what-if/1: the same survey under changed assumptions."""
    from contractor.engine.screening.whatif import what_if as work_out
    from contractor.engine.screening.whatif import what_if_document
    from contractor.engine.screening.whatif_reading import read_what_if

    survey, variants = read_what_if(document)
    return what_if_document(work_out(survey, variants), system)


def bill_of_materials(document: Any, system: System, limits: Limits) -> Document:
    """bill-request/1 -> bill-of-materials/1."""
    from contractor.engine.materials import bill_document

    return bill_document(document, system=system)


def cutting_plan(document: Any, system: System, limits: Limits) -> Document:
    """cut-stock/1 -> cut-plan/1; lengths are whole numbers of the document's own unit."""
    from contractor.engine.cutting import plan_document, read_instance, solve

    plan = solve(
        read_instance(document),
        seconds=limits.seconds,
        cancelled=limits.cancelled,
        progress=lambda made: limits.progress(_numbers(made)),
    )
    return plan_document(plan)


def movement(document: Any, system: System, limits: Limits) -> Document:
    """movement/1 -> movement-verdict/1."""
    from contractor.engine.movement import movement_document

    return movement_document(document, system)


def crew_plan(document: Any, system: System, limits: Limits) -> Document:
    """install-sched/1 -> crew plan with its proven bound."""
    from contractor.engine.rostering import optimize
    from contractor.engine.rostering.plan_document import plan_to_document
    from contractor.engine.rostering.reading import read_instance

    plan = optimize.plan(
        read_instance(document),
        seconds=limits.seconds,
        cancelled=limits.cancelled,
        progress=lambda made: limits.progress(_numbers(made)),
    )
    return dict(plan_to_document(plan))


CALCULATIONS: dict[str, Calculation] = {
    entry.name: entry
    for entry in (
        Calculation("brace-layout", "wall-survey/1", "brace-layout/1", brace_layout),
        Calculation("screening", "a survey and positions", "screening", screening),
        Calculation("what-if", "what-if-request/1", "what-if/1", what_if),
        Calculation(
            "bill-of-materials", "bill-request/1", "bill-of-materials/1", bill_of_materials
        ),
        Calculation("cutting-plan", "cut-stock/1", "cut-plan/1", cutting_plan, takes_time=True),
        Calculation("movement", "movement/1", "movement-verdict/1", movement),
        Calculation("crew-plan", "install-sched/1", "crew plan", crew_plan, takes_time=True),
    )
}


def _numbers(progress: object) -> Document:
    """Return the plain members of a solver's progress report."""
    return {
        name: value
        for name, value in vars(progress).items()
        if isinstance(value, str | int | float | bool)
    }


def _members(document: Any, allowed: set[str]) -> Mapping[str, Any]:
    if not isinstance(document, dict):
        raise InputError("not_an_object", "", "The body is no object.", "Post a JSON object.")
    for name in document:
        if name not in allowed:
            raise InputError(
                "unknown_member",
                f"/{name}",
                "There is no such member.",
                "Known: " + ", ".join(sorted(allowed)) + ".",
            )
    return document


def _survey_at(document: Any) -> Any:
    from contractor.engine.survey_reader import read_survey

    try:
        return read_survey(document)
    except InputError as error:
        pointer = "/survey" + error.pointer
        raise InputError(error.code, pointer, error.reason, error.remedy) from error


def _name(members: Mapping[str, Any], name: str) -> str | None:
    value = members.get(name)
    if value is None or (isinstance(value, str) and 0 < len(value) <= 60):
        return value
    raise InputError("not_a_name", f"/{name}", "This is not a name.", "Give a short text.")


def _positions(value: Any) -> list[int] | None:
    if value is None:
        return None
    if not isinstance(value, list) or not 1 <= len(value) <= MAX_BRACES:
        raise InputError(
            "positions_malformed",
            "/positions",
            f"The positions are no list of 1 to {MAX_BRACES} lengths.",
            "Give each brace's distance from the left corner, or leave positions out.",
        )
    return [read_length(item, f"/positions/{index}") for index, item in enumerate(value)]
