"""The widest spacing of braces that passes, to a tick; the layout never goes beyond it.

Every brace check grows in proportion with the tributary width and the wall's with the square of
the bay, so that one limit of width and one of bay say it all. Spans run between the lowest and
the highest measured floor: moment, deflection, base reaction and bay are worst at one end and
the top reaction at the other, so both ends are checked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from contractor.engine.screening.brace import (
    bay_check,
    beam_checks,
    foot_checks,
    head_checks,
)
from contractor.engine.screening.brace_load import demand, span_of_height
from contractor.engine.screening.case import TICKS_PER_INCH, Case, prepare
from contractor.engine.screening.checks import Check
from contractor.engine.screening.hardware import DEFAULT_SHAPE, Assumptions, BraceKit
from contractor.engine.survey import Survey

#: Nothing is spaced wider than this, whatever it could carry.
CEILING_TICKS = 144 * TICKS_PER_INCH
_PROBE_IN = 12.0


@dataclass(frozen=True)
class SpacingLimit:
    """What the layout may use.

    ``ticks``: the widest spacing that passes; None when that cannot be said (soil, fill or
    wall facts missing) or when it is below the rules' narrowest spacing. The layout then goes
    by its rule and the screening asks for an engineer. ``carries_ticks`` is the widest spacing
    that passes even then, None when not computable. ``corner_ticks`` is the widest bay from a
    corner to the end brace that the wall carries. ``governs`` is the code of the check that
    sets the limit, or of the missing fact.
    """

    ticks: int | None
    governs: str
    note: str
    carries_ticks: int | None = None
    corner_ticks: int | None = None


def spacing_limit(
    survey: Survey,
    *,
    shape: str = DEFAULT_SHAPE,
    grade: str | None = None,
    kit: BraceKit | None = None,
    assumptions: Assumptions | None = None,
) -> SpacingLimit:
    """Return the widest spacing that passes with this beam and these fixings.

    A layout that keeps to ``ticks``, with end braces no further from the corners than
    ``rules.corner_max_ticks``, never fails for the width that a brace carries. Raises
    InputError for an unknown shape or grade.
    """
    case = prepare(survey, shape, grade, kit or BraceKit(), assumptions or Assumptions())
    return limit_of_case(case)


def limit_of_case(case: Case) -> SpacingLimit:
    missing = _missing_fact(case)
    if missing is not None:
        return SpacingLimit(None, missing[0], missing[1])
    spans = _end_spans(case)
    width, width_code = _largest(lambda ticks: _width_checks(case, spans, ticks), 1)
    bay, bay_code = _largest(lambda ticks: _bay_checks(case, spans, ticks), 2)
    spacing, governs = width, width_code
    corner = case.survey.rules.corner_max_ticks
    if spacing < corner:
        # An end brace carries half the corner bay too: (corner + spacing) / 2 <= width.
        spacing = 2 * spacing - corner
    if bay < spacing:
        spacing, governs = bay, bay_code
    return _answer(case, spacing, governs, bay)


def _missing_fact(case: Case) -> tuple[str, str] | None:
    survey = case.survey
    if not survey.soil.is_known:
        return "soil_unknown", "The soil is not known: no spacing can be named."
    if case.ground is None:
        return "fill_unknown", "The height of the fill is not known or zero: no load."
    if case.ground.fluid.basis == "assumed":
        return "soil_unsuitable", "The soil has no tabulated load: no spacing can be named."
    return None


def _end_spans(case: Case) -> tuple[float, ...]:
    heights = {station.height_ticks / TICKS_PER_INCH for station in case.survey.stations}
    return tuple(span_of_height(case, height) for height in sorted({min(heights), max(heights)}))


def _width_checks(case: Case, spans: tuple[float, ...], ticks: int) -> list[Check]:
    made: list[Check] = []
    for span in spans:
        found = demand(case, span, ticks / TICKS_PER_INCH)
        made += beam_checks(case, found)
        made += head_checks(case, found)
        made += foot_checks(case, found)
    return [check for check in made if check.is_computed]


def _bay_checks(case: Case, spans: tuple[float, ...], ticks: int) -> list[Check]:
    made = [bay_check(case, ticks / TICKS_PER_INCH, span) for span in spans]
    return [check for check in made if check.is_computed]


def _worst(checks: list[Check]) -> tuple[float, str]:
    """Return utilization and code of the most used check; nothing computed counts as zero."""
    ratios = [(check.utilization or 0.0, check.code) for check in checks]
    return max(ratios, default=(0.0, "rule"))


def _largest(checks_at: Callable[[int], list[Check]], power: int) -> tuple[int, str]:
    """Return the most ticks that pass, and the check that stops one more.

    Utilization grows with a known power of the width, but for the step where anchors begin to
    feel shear and tension together; so a few proportional steps come close, and halving the
    bracket between a width that passes and one that does not settles it to a tick.
    """
    if _worst(checks_at(CEILING_TICKS))[0] <= 1.0:
        return CEILING_TICKS, "rule"
    passing, failing = 0, CEILING_TICKS
    guess = int(_PROBE_IN * TICKS_PER_INCH)
    while failing - passing > 1:
        guess = guess if passing < guess < failing else (passing + failing) // 2
        ratio = _worst(checks_at(guess))[0]
        passing, failing = (guess, failing) if ratio <= 1.0 else (passing, guess)
        step = int(guess * (1 / ratio) ** (1 / power)) if ratio > 0 else failing
        guess = step + 1 if step == passing else step
    return passing, _worst(checks_at(failing))[1]


def _answer(case: Case, spacing: int, governs: str, bay: int) -> SpacingLimit:
    floor = case.survey.rules.spacing_min_ticks
    corner = bay if bay < case.survey.rules.corner_max_ticks else None
    inches = spacing / TICKS_PER_INCH
    what = _TITLES.get(governs, governs.replace("_", " "))
    if spacing < floor:
        words = (
            f"Even {floor / TICKS_PER_INCH:g} in apart does not pass: {what} governs"
            f"{f', {inches:.4g} in would' if spacing > 0 else ''}. The layout goes by its rule; "
            "an engineer decides."
        )
        return SpacingLimit(None, governs, words, max(spacing, 0), corner)
    words = f"Up to {inches:.4g} in apart passes; {what} governs."
    return SpacingLimit(spacing, governs, words, spacing, corner)


_TITLES = {
    "wall_between_braces": "the wall between braces",
    "beam_bending": "the beam in bending",
    "beam_shear": "the beam in shear",
    "beam_deflection": "the beam's deflection",
    "anchor_steel_shear": "the anchors' steel",
    "anchor_pryout": "the anchors' pryout",
    "anchor_interaction": "the anchors in shear and tension",
    "rule": "nothing but the rule",
}
