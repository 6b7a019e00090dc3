"""How the most used check moves when one fact of the survey changes."""

from __future__ import annotations

from dataclasses import dataclass, replace

from contractor.engine.data.soils import SATURATED_PSF_PER_FT
from contractor.engine.screening.answer import Positions, Screening
from contractor.engine.screening.case import TICKS_PER_INCH, Case, prepare
from contractor.engine.screening.screen import evaluate
from contractor.engine.survey import Soil, Survey

FOOT_TICKS = 12 * TICKS_PER_INCH


@dataclass(frozen=True)
class Sensitivity:
    """The most used check when one fact changes."""

    code: str
    title: str
    utilization: float | None
    governs: str


def sensitivity(screening: Screening) -> tuple[Sensitivity, ...]:
    """Return the most used check with 1 ft more fill, and with saturated soil (HUD, read)."""
    case = screening.case
    survey = case.survey
    fill = survey.wall.fill_height_ticks
    if fill is None:
        return ()
    deeper = replace(survey, wall=replace(survey.wall, fill_height_ticks=fill + FOOT_TICKS))
    wet = replace(survey, soil=Soil(equivalent_fluid_psf_per_ft=SATURATED_PSF_PER_FT))
    positions = screening.positions
    return (
        _sensitivity(case, deeper, positions, "fill_plus_1_ft", "fill 1 ft higher"),
        _sensitivity(case, wet, positions, "saturated", "saturated soil, 90 psf per foot (HUD)"),
    )


def _sensitivity(
    case: Case,
    survey: Survey,
    positions: Positions,
    code: str,
    title: str,
) -> Sensitivity:
    changed = prepare(survey, case.shape.name, case.grade.name, case.kit, case.assumptions)
    worst = evaluate(changed, positions).governing
    if worst is None:
        return Sensitivity(code, title, None, "not computed")
    return Sensitivity(code, title, worst.check.utilization, worst.check.code)
