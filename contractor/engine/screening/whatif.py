"""The same survey under changed assumptions, side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from contractor.engine.layout.answer import Layout
from contractor.engine.layout.braces import lay_out
from contractor.engine.screening.answer import Screening
from contractor.engine.screening.findings import Outcome
from contractor.engine.screening.hardware import DEFAULT_SHAPE, Assumptions, BraceKit
from contractor.engine.screening.screen import screen
from contractor.engine.screening.spacing import spacing_limit
from contractor.engine.survey import JoistDirection, Soil, Survey
from contractor.engine.units import System, write_length, write_quantity


@dataclass(frozen=True)
class Variant:
    """What differs from the survey and the company's defaults; None leaves it as it is.

    ``spacing_max_ticks`` replaces the rule's widest spacing. ``direction`` turns the framing
    detail: "parallel" is the backer with blocking; it needs joist centres of its own.
    """

    name: str
    shape: str = DEFAULT_SHAPE
    grade: str | None = None
    kit: BraceKit | None = None
    assumptions: Assumptions | None = None
    soil: Soil | None = None
    fill_height_ticks: int | None = None
    spacing_max_ticks: int | None = None
    direction: JoistDirection | None = None
    center_ticks: tuple[int, ...] = ()


@dataclass(frozen=True)
class Row:
    """One variant's answer. ``cost_cents`` and ``labour_h`` are None without a price."""

    variant: Variant
    survey: Survey
    layout: Layout
    screening: Screening
    cost_cents: int | None
    labour_h: float | None

    @property
    def outcome(self) -> Outcome:
        return self.screening.outcome

    @property
    def braces(self) -> int:
        return len(self.layout.braces)


Priced = Callable[[Variant, Survey, Layout], tuple[int, float]]


def changed_survey(survey: Survey, variant: Variant) -> Survey:
    """Return the survey with the variant's facts and rules."""
    wall, rules, framing = survey.wall, survey.rules, survey.framing
    if variant.fill_height_ticks is not None:
        wall = replace(wall, fill_height_ticks=variant.fill_height_ticks)
    if variant.spacing_max_ticks is not None:
        rules = replace(rules, spacing_max_ticks=variant.spacing_max_ticks)
    if variant.direction is not None and variant.direction != framing.direction:
        framing = replace(framing, direction=variant.direction, center_ticks=variant.center_ticks)
    soil = variant.soil or survey.soil
    return replace(survey, wall=wall, rules=rules, framing=framing, soil=soil)


def what_if(
    survey: Survey, variants: Sequence[Variant], *, price: Priced | None = None
) -> tuple[Row, ...]:
    """Return a row per variant, in the order given.

    ``price(variant, survey, layout)`` gives cost in cents and labour in hours (materials know
    both). Raises InputError as layout and screening do.
    """
    return tuple(_row(survey, variant, price) for variant in variants)


def _row(survey: Survey, variant: Variant, price: Priced | None) -> Row:
    changed = changed_survey(survey, variant)
    shape, grade, kit, assumptions = (
        variant.shape,
        variant.grade,
        variant.kit,
        variant.assumptions,
    )
    limit = spacing_limit(changed, shape=shape, grade=grade, kit=kit, assumptions=assumptions)
    layout = lay_out(changed, spacing_limit_ticks=limit.ticks)
    found = screen(
        changed,
        layout,
        shape=shape,
        grade=grade,
        kit=kit,
        assumptions=assumptions,
        limit=limit,
    )
    cost, labour = price(variant, changed, layout) if price else (None, None)
    return Row(variant, changed, layout, found, cost, labour)


def what_if_document(rows: Sequence[Row], system: System = "us") -> dict[str, Any]:
    """Return a ``what-if/1`` document: one member of ``rows`` per variant."""
    return {"schema": "what-if/1", "rows": [_written(row, system) for row in rows]}


def _written(row: Row, system: System) -> dict[str, Any]:
    governing = row.screening.governing
    torque = row.screening.torque
    largest = row.layout.largest_spacing_ticks
    ratio = row.screening.utilization
    allowed = torque.allowed_lbf_ft if torque else None
    return {
        "name": row.variant.name,
        "shape": row.screening.case.shape.name,
        "grade": row.screening.case.grade.name,
        "outcome": row.outcome,
        "reasons": [reason.code for reason in row.screening.reasons],
        "braces": row.braces,
        "largest_spacing": None if largest is None else write_length(largest, system),
        "utilization": None if ratio is None else round(ratio, 6),
        "governs": governing.check.code if governing else None,
        "torque": None if allowed is None else write_quantity(allowed, "lbf ft", system),
        "cost_cents": row.cost_cents,
        "labour_h": row.labour_h,
    }
