"""Screen a wall with its braces: the stop list first, then every limit state of every brace."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from contractor.engine.data.steel_shapes import shapes
from contractor.engine.screening.answer import (
    Bay,
    BraceClass,
    Evaluation,
    Governing,
    Positions,
    ScreenedBrace,
    Screening,
)
from contractor.engine.screening.brace import bay_check, brace_checks, torque_limit
from contractor.engine.screening.brace_load import demand, height_ticks, span_of_height
from contractor.engine.screening.case import TICKS_PER_INCH, Case, prepare
from contractor.engine.screening.checks import Check
from contractor.engine.screening.findings import REVIEW, TRADE, WITHIN, Note, Reason
from contractor.engine.screening.handling import Handling, handling
from contractor.engine.screening.hardware import DEFAULT_SHAPE, Assumptions, BraceKit
from contractor.engine.screening.loads import tributary_ticks
from contractor.engine.screening.notes import cautions
from contractor.engine.screening.spacing import SpacingLimit, limit_of_case
from contractor.engine.screening.torque import TorqueLimit
from contractor.engine.survey import Survey


class PlacedBrace(Protocol):
    """What is read of a brace of a layout."""

    @property
    def mark(self) -> str: ...
    @property
    def at_ticks(self) -> int: ...


class PlacedBraces(Protocol):
    @property
    def braces(self) -> Sequence[PlacedBrace]: ...


def positions_of(layout: PlacedBraces | Sequence[int]) -> Positions:
    """Return (mark, position in ticks) of a layout, or of plain positions marked B1, B2, ..."""
    if isinstance(layout, Sequence):
        return tuple((f"B{number}", at) for number, at in enumerate(sorted(layout), start=1))
    return tuple((brace.mark, brace.at_ticks) for brace in layout.braces)


def screen(
    survey: Survey,
    layout: PlacedBraces | Sequence[int],
    *,
    shape: str = DEFAULT_SHAPE,
    grade: str | None = None,
    kit: BraceKit | None = None,
    assumptions: Assumptions | None = None,
    limit: SpacingLimit | None = None,
) -> Screening:
    """Return the screening of a layout (or of plain positions in ticks).

    ``grade`` None: the shape's default. ``limit``: what ``spacing_limit`` gave for the same
    wall and fixings, so that it need not be worked out again. Raises
    InputError for an unknown shape or grade and for a brace outside the measured stations.
    """
    case = prepare(survey, shape, grade, kit or BraceKit(), assumptions or Assumptions())
    return screen_case(case, positions_of(layout), limit)


def evaluate(case: Case, positions: Positions) -> Evaluation:
    """Return the checks of braces at positions on a prepared wall."""
    braces, classes = _braces(case, positions)
    return Evaluation(braces, classes, _bays(case, positions))


def screen_case(case: Case, positions: Positions, limit: SpacingLimit | None = None) -> Screening:
    """Return the screening of a prepared wall."""
    found = evaluate(case, positions)
    stops = (*case.stops, *_no_braces(case, positions))
    missing = () if stops else _not_computed(found)
    reasons = (*stops, *missing, *_failures(found.classes, found.bays))
    limit = limit or limit_of_case(case)
    return Screening(
        REVIEW if reasons else WITHIN,
        reasons,
        case,
        found.braces,
        found.classes,
        found.bays,
        found.governing,
        limit,
        _torque(case, found),
        _torque(replace(case, kit=replace(case.kit, is_gap_packed=True)), found),
        _handling(case, positions),
        (*cautions(case.survey), *_fit_cautions(case, limit)),
    )


def _no_braces(case: Case, positions: Positions) -> tuple[Reason, ...]:
    """Return the reason of a wall that needs braces and has none."""
    if positions or case.survey.wall.length_ticks < 2 * case.survey.rules.corner_min_ticks:
        return ()
    text = "No brace stands on this wall, so nothing of it is screened."
    return (Reason("no_braces", text, TRADE, "common practice", "unknown"),)


def _braces(
    case: Case, positions: Positions
) -> tuple[tuple[ScreenedBrace, ...], tuple[BraceClass, ...]]:
    at = [position for _, position in positions]
    widths = tributary_ticks(at, case.survey.wall.length_ticks)
    found: dict[tuple[float, int], list[str]] = {}
    placed = []
    for (mark, position), width in zip(positions, widths, strict=True):
        span = span_of_height(case, height_ticks(case.survey, position) / TICKS_PER_INCH)
        found.setdefault((span, width), []).append(mark)
        placed.append((mark, position, width, span))
    names = {key: f"class {number}" for number, key in enumerate(found, start=1)}
    braces = tuple(
        ScreenedBrace(mark, position, width, span, names[span, width])
        for mark, position, width, span in placed
    )
    if not case.layers:
        return braces, ()
    classes = []
    for (span, width), marks in found.items():
        load = demand(case, span, width / TICKS_PER_INCH)
        name = names[span, width]
        classes.append(BraceClass(name, tuple(marks), load, brace_checks(case, load)))
    return braces, tuple(classes)


def _bays(case: Case, positions: Positions) -> tuple[Bay, ...]:
    if not positions:
        return ()
    ends = [("corner", 0), *positions, ("corner", case.survey.wall.length_ticks)]
    bays = []
    made: dict[int, Check] = {}
    for (left, start), (right, end) in itertools.pairwise(ends):
        width = end - start
        if width not in made:
            middle = min(max((start + end) // 2, _first(case)), _last(case))
            span = span_of_height(case, height_ticks(case.survey, middle) / TICKS_PER_INCH)
            made[width] = bay_check(case, width / TICKS_PER_INCH, span)
        bays.append(Bay(left, right, width, made[width]))
    return tuple(bays)


def _first(case: Case) -> int:
    return min(station.at_ticks for station in case.survey.stations)


def _last(case: Case) -> int:
    return max(station.at_ticks for station in case.survey.stations)


def _not_computed(found: Evaluation) -> tuple[Reason, ...]:
    """Return a reason for every kind of check that could not be made and that no stop explains."""
    checks = [check for group in found.classes for check in group.checks]
    checks += [bay.check for bay in found.bays]
    missing = {check.code: check for check in checks if not check.is_computed}
    return tuple(
        Reason(
            f"{code}_not_computed",
            f"{check.title}: {check.reason}.",
            check.clause,
            check.basis,
            "unknown",
        )
        for code, check in missing.items()
    )


def _failures(classes: tuple[BraceClass, ...], bays: tuple[Bay, ...]) -> tuple[Reason, ...]:
    """Return one reason per kind of check that fails anywhere, with its worst place."""
    worst: dict[str, Governing] = {}
    places = [
        Governing(", ".join(group.marks), check) for group in classes for check in group.checks
    ]
    places += [Governing(f"{bay.from_mark} to {bay.to_mark}", bay.check) for bay in bays]
    for item in places:
        ratio = item.check.utilization
        if ratio is None or ratio <= 1.0:
            continue
        known = worst.get(item.check.code)
        if known is None or ratio > (known.check.utilization or 0.0):
            worst[item.check.code] = item
    return tuple(_failure(item) for item in worst.values())


def _failure(item: Governing) -> Reason:
    check, ratio = item.check, item.check.utilization or 0.0
    used = f"{100 * ratio:.1f} % used" if math.isfinite(ratio) else "no strength as placed"
    text = f"{check.title}: {used} at {item.where}."
    return Reason(check.code, text, check.clause, check.basis, "check")


def _torque(case: Case, found: Evaluation) -> TorqueLimit | None:
    """Return the lowest limit over the shortest and the longest span."""
    spans = {brace.span_in for brace in found.braces}
    made = [torque_limit(case, span) for span in sorted({min(spans), max(spans)})] if spans else []
    computed = [limit for limit in made if limit.allowed_lbf_ft is not None]
    return min(computed, key=lambda limit: limit.allowed_lbf_ft or 0, default=None)


def _handling(case: Case, positions: Positions) -> Handling | None:
    """Return the lifting of the longest beam."""
    if not positions:
        return None
    tallest = max(height_ticks(case.survey, at) for _, at in positions) / TICKS_PER_INCH
    gap = case.survey.rules.top_gap_ticks / TICKS_PER_INCH
    length = span_of_height(case, tallest) if case.is_parallel else tallest - gap
    return handling(case.shape.weight_lb_per_ft, length, case.kit.lifters)


def _fit_cautions(case: Case, limit: SpacingLimit) -> tuple[Note, ...]:
    found = []
    rules, shape = case.survey.rules, case.shape.name
    half = case.shape.flange_width_in / 2
    if not case.is_parallel and case.member is not None:
        plies = 2 if case.kit.is_joist_sistered else 1
        beside = case.member.thickness_in / plies / 2
        room = rules.bracket_offset_ticks / TICKS_PER_INCH - beside
        if half > room + case.kit.fit_tolerance_in:
            text = (
                f"Half a flange of {shape} is {half:.4g} in, the bracket offset leaves "
                f"{room:.4g} in beside the joist."
            )
            found.append(Note("flange_meets_joist", text, TRADE))
    if half > rules.clearance_ticks / TICKS_PER_INCH:
        text = f"The layout's clearance is less than half a flange of {shape}."
        found.append(Note("clearance_below_flange", text, TRADE))
    if limit.corner_ticks is not None:
        text = f"{limit.note} A corner's bay: {limit.corner_ticks / TICKS_PER_INCH:.4g} in."
        found.append(Note("corner_bay", text, TRADE))
    return tuple(found)


def lightest_shape(
    survey: Survey,
    layout: PlacedBraces | Sequence[int],
    *,
    kit: BraceKit | None = None,
    assumptions: Assumptions | None = None,
) -> str | None:
    """Return the lightest shape, in its default grade, whose beam checks all pass."""
    positions = positions_of(layout)
    for name in shapes():
        case = prepare(survey, name, None, kit or BraceKit(), assumptions or Assumptions())
        if beam_passes(case, positions):
            return name
    return None


def beam_passes(case: Case, positions: Positions) -> bool:
    """Return whether every beam check of every brace passes; False without a load."""
    _, classes = _braces(case, positions)
    beams = [check for group in classes for check in group.checks if check.code[:5] == "beam_"]
    return bool(beams) and all(check.passes for check in beams)
