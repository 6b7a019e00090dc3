"""Screen a wall with its braces: the stop list first, then every limit state of every brace."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from contractor.engine.data.soils import SATURATED_PSF_PER_FT
from contractor.engine.data.steel_shapes import shapes
from contractor.engine.screening.brace import (
    Demand,
    bay_check,
    brace_checks,
    demand,
    height_ticks,
    span_of_height,
    torque_limit,
)
from contractor.engine.screening.case import TICKS_PER_INCH, Case, prepare
from contractor.engine.screening.checks import Check
from contractor.engine.screening.distress import TRADE, cautions
from contractor.engine.screening.findings import REVIEW, WITHIN, Note, Outcome, Reason
from contractor.engine.screening.handling import Handling, handling
from contractor.engine.screening.hardware import DEFAULT_SHAPE, Assumptions, BraceKit
from contractor.engine.screening.loads import tributary_ticks
from contractor.engine.screening.spacing import SpacingLimit, limit_of_case
from contractor.engine.screening.torque import TorqueLimit
from contractor.engine.survey import Soil, Survey

FOOT_TICKS = 12 * TICKS_PER_INCH
Positions = tuple[tuple[str, int], ...]


class PlacedBrace(Protocol):
    """What is read of a brace of a layout."""

    @property
    def mark(self) -> str: ...
    @property
    def at_ticks(self) -> int: ...


class PlacedBraces(Protocol):
    @property
    def braces(self) -> Sequence[PlacedBrace]: ...


@dataclass(frozen=True)
class BraceClass:
    """Braces with the same span and the same width of wall share one calculation."""

    name: str
    marks: tuple[str, ...]
    demand: Demand
    checks: tuple[Check, ...]

    @property
    def worst(self) -> Check | None:
        return _most_used(self.checks)


@dataclass(frozen=True)
class ScreenedBrace:
    mark: str
    at_ticks: int
    tributary_ticks: int
    span_in: float
    class_name: str


@dataclass(frozen=True)
class Bay:
    """The wall from one brace (or corner) to the next."""

    from_mark: str
    to_mark: str
    width_ticks: int
    check: Check


@dataclass(frozen=True)
class Governing:
    """The most used check; ``where`` is a brace class or a bay."""

    where: str
    check: Check


@dataclass(frozen=True)
class Sensitivity:
    """The most used check when one fact changes."""

    code: str
    title: str
    utilization: float | None
    governs: str


@dataclass(frozen=True)
class Screening:
    """The whole answer; ``reasons`` is empty exactly when the outcome is within limits."""

    outcome: Outcome
    reasons: tuple[Reason, ...]
    case: Case
    braces: tuple[ScreenedBrace, ...]
    classes: tuple[BraceClass, ...]
    bays: tuple[Bay, ...]
    governing: Governing | None
    limit: SpacingLimit
    torque: TorqueLimit | None
    handling: Handling | None
    cautions: tuple[Note, ...]

    @property
    def positions(self) -> Positions:
        return tuple((brace.mark, brace.at_ticks) for brace in self.braces)

    def bay_check_at(self, width_ticks: int, span_in: float) -> Check:
        """Return the check of the wall over a bay of another width."""
        return bay_check(self.case, width_ticks / TICKS_PER_INCH, span_in)

    @property
    def utilization(self) -> float | None:
        return self.governing.check.utilization if self.governing else None

    @property
    def largest_bay_ticks(self) -> int:
        """Return the widest spacing between two braces; 0 with fewer than two."""
        inner = [
            bay.width_ticks for bay in self.bays if "corner" not in (bay.from_mark, bay.to_mark)
        ]
        return max(inner, default=0)


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
) -> Screening:
    """Return the screening of a layout (or of plain positions in ticks).

    ``grade`` None: the shape's default. Raises InputError for an unknown shape or grade and for
    a brace outside the measured stations.
    """
    case = prepare(survey, shape, grade, kit or BraceKit(), assumptions or Assumptions())
    return screen_case(case, positions_of(layout))


@dataclass(frozen=True)
class Evaluation:
    """Every check of every brace class and bay, without the stop list."""

    braces: tuple[ScreenedBrace, ...]
    classes: tuple[BraceClass, ...]
    bays: tuple[Bay, ...]

    @property
    def checks(self) -> tuple[Check, ...]:
        """Return every check that was computed."""
        found = [check for group in self.classes for check in group.checks]
        found += [bay.check for bay in self.bays]
        return tuple(check for check in found if check.is_computed)

    @property
    def governing(self) -> Governing | None:
        return _governing(self.classes, self.bays)


def evaluate(case: Case, positions: Positions) -> Evaluation:
    """Return the checks of braces at positions on a prepared wall."""
    braces, classes = _braces(case, positions)
    return Evaluation(braces, classes, _bays(case, positions))


def screen_case(case: Case, positions: Positions) -> Screening:
    """Return the screening of a prepared wall."""
    found = evaluate(case, positions)
    reasons = (*case.stops, *_failures(found.classes, found.bays))
    limit = limit_of_case(case)
    return Screening(
        REVIEW if reasons else WITHIN,
        reasons,
        case,
        found.braces,
        found.classes,
        found.bays,
        found.governing,
        limit,
        _torque(case, [brace.span_in for brace in found.braces]),
        _handling(case, positions),
        (*cautions(case.survey), *_fit_cautions(case, limit)),
    )


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


def _most_used(checks: Sequence[Check]) -> Check | None:
    computed = [check for check in checks if check.is_computed]
    return max(computed, key=lambda check: check.utilization or 0.0, default=None)


def _governing(classes: tuple[BraceClass, ...], bays: tuple[Bay, ...]) -> Governing | None:
    found = [Governing(group.name, check) for group in classes for check in group.checks]
    found += [Governing(f"{bay.from_mark} to {bay.to_mark}", bay.check) for bay in bays]
    computed = [item for item in found if item.check.is_computed]
    return max(computed, key=lambda item: item.check.utilization or 0.0, default=None)


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
    return tuple(
        Reason(
            item.check.code,
            f"{item.check.title}: {100 * (item.check.utilization or 0):.1f} % "
            f"used at {item.where}.",
            item.check.clause,
            item.check.basis,
            "check",
        )
        for item in worst.values()
    )


def _torque(case: Case, spans: list[float]) -> TorqueLimit | None:
    """Return the lowest limit over the shortest and the longest span."""
    made = [torque_limit(case, span) for span in sorted({min(spans), max(spans)})] if spans else []
    computed = [limit for limit in made if limit.allowed_lbf_ft is not None]
    return min(computed, key=lambda limit: limit.allowed_lbf_ft or 0, default=None)


def _handling(case: Case, positions: Positions) -> Handling | None:
    if not positions:
        return None
    tallest = max(height_ticks(case.survey, at) for _, at in positions)
    length = tallest - case.survey.rules.top_gap_ticks
    return handling(case.shape.weight_lb_per_ft, length / TICKS_PER_INCH, case.kit.lifters)


def _fit_cautions(case: Case, limit: SpacingLimit) -> tuple[Note, ...]:
    found = []
    rules = case.survey.rules
    half = case.shape.flange_width_in / 2
    if not case.is_parallel and case.member is not None:
        plies = 2 if case.kit.is_joist_sistered else 1
        room = rules.bracket_offset_ticks / TICKS_PER_INCH - case.member.thickness_in / plies / 2
        if half > room + case.kit.fit_tolerance_in:
            found.append(
                Note(
                    "flange_meets_joist",
                    f"Half a flange of {case.shape.name} is "
                    f"{half:.4g} in, the bracket offset leaves {room:.4g} in beside the "
                    "joist.",
                    TRADE,
                )
            )
    if half > rules.clearance_ticks / TICKS_PER_INCH:
        found.append(
            Note(
                "clearance_below_flange",
                f"The layout's clearance is less than half a flange of {case.shape.name}.",
                TRADE,
            )
        )
    if limit.corner_ticks is not None:
        found.append(
            Note(
                "corner_bay",
                f"{limit.note} The bay at a corner: up to "
                f"{limit.corner_ticks / TICKS_PER_INCH:.4g} in.",
                TRADE,
            )
        )
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
