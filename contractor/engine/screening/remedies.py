"""What would help where a check governs, each with its new utilization.

A price is added by the caller (``price_remedies``): this module knows no prices. ``Change`` says
what to build differently, in the terms that ``screen`` takes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from contractor.engine.data.steel_shapes import shapes
from contractor.engine.screening.answer import Positions, Screening
from contractor.engine.screening.brace import brace_checks
from contractor.engine.screening.brace_load import demand
from contractor.engine.screening.case import TICKS_PER_INCH, Case, prepare
from contractor.engine.screening.checks import Check
from contractor.engine.screening.hardware import BraceKit
from contractor.engine.screening.screen import beam_passes, evaluate

PAD_IN = 8.0
PAD_EMBEDMENT_IN = 4.0
LARGER_WASHER_IN = 4.0


@dataclass(frozen=True)
class Change:
    """What differs: a kit, a beam in its default grade, or a widest spacing in ticks."""

    kit: BraceKit | None = None
    shape: str | None = None
    spacing_ticks: int | None = None


@dataclass(frozen=True)
class Remedy:
    """``utilization`` is of the check ``helps``, ``overall`` of the most used check then."""

    code: str
    title: str
    helps: str
    utilization: float
    overall: float
    governs: str
    change: Change
    cost_cents: int | None = None


def would_help(screening: Screening) -> tuple[Remedy, ...]:
    """Return what helps the governing check, then every other check that fails.

    In a fixed order, each change once; () without a load.
    """
    if screening.governing is None:
        return ()
    codes = dict.fromkeys((screening.governing.check.code, *screening.failing))
    found: dict[str, Remedy] = {}
    for code in codes:
        for remedy in _remedies(screening, code):
            found.setdefault(remedy.code, remedy)
    return tuple(found.values())


def _remedies(screening: Screening, code: str) -> Iterator[Remedy]:
    positions = screening.positions
    yield from _closer(screening, code)
    yield from _lightest(screening, code, positions)
    for name, title, kit in _kits(screening.case, code):
        case = prepare_like(screening.case, kit=kit)
        yield _remedy(name, title, case, positions, code, Change(kit=kit))


def price_remedies(
    remedies: tuple[Remedy, ...], price: Callable[[Change], int]
) -> tuple[Remedy, ...]:
    """Return the remedies with ``price(change)`` as their extra cost in cents."""
    return tuple(replace(remedy, cost_cents=price(remedy.change)) for remedy in remedies)


def prepare_like(case: Case, *, kit: BraceKit | None = None, shape: str | None = None) -> Case:
    """Return the same wall with another kit or beam (a new beam comes in its default grade)."""
    grade = None if shape else case.grade.name
    return prepare(case.survey, shape or case.shape.name, grade, kit or case.kit, case.assumptions)


def _remedy(
    name: str, title: str, case: Case, positions: Positions, code: str, change: Change
) -> Remedy:
    found = evaluate(case, positions)
    same = [check.utilization or 0.0 for check in found.checks if _same(check.code, code)]
    worst = found.governing
    assert worst is not None
    overall = worst.check.utilization or 0.0
    used = max(same, default=overall)
    return Remedy(name, title, code, used, overall, worst.check.code, change)


def _same(code: str, governed: str) -> bool:
    """Return whether a check belongs with the one that governed: anchors count as one."""
    return code == governed or (code[:7] == governed[:7] == "anchor_")


def _closer(screening: Screening, code: str) -> Iterator[Remedy]:
    """Yield the spacing at which everything passes, where the braces stand wider now."""
    limit, case = screening.limit, screening.case
    spacing = limit.carries_ticks
    if not spacing or screening.utilization is None or screening.utilization <= 1.0:
        return
    span = min(brace.span_in for brace in screening.braces)
    width = spacing / TICKS_PER_INCH
    checks: list[Check] = [*brace_checks(case, demand(case, span, width))]
    checks += [bay for bay in [screening.bay_check_at(spacing, span)] if bay.is_computed]
    worst = max(checks, key=lambda check: check.utilization or 0.0)
    same = [check.utilization or 0.0 for check in checks if _same(check.code, code)]
    yield Remedy(
        "closer_spacing",
        f"Braces no more than {width:.4g} in apart",
        code,
        max(same, default=0.0),
        worst.utilization or 0.0,
        worst.code,
        Change(spacing_ticks=spacing),
    )


def _lightest(screening: Screening, code: str, positions: Positions) -> Iterator[Remedy]:
    if not code.startswith("beam_"):
        return
    for name in shapes():
        case = prepare_like(screening.case, shape=name)
        if beam_passes(case, positions):
            yield _remedy(
                "lightest_shape",
                f"Beam {name} {case.grade.name}, the lightest that passes",
                case,
                positions,
                code,
                Change(shape=name),
            )
            return


def _kits(case: Case, code: str) -> Iterator[tuple[str, str, BraceKit]]:
    """Yield (code, title, kit) of the changed fixings that touch a check."""
    kit = case.kit
    if code == "top_bolts":
        if not case.is_parallel and not kit.is_joist_sistered:
            yield (
                "sistered_joist",
                "A second joist beside the first",
                replace(kit, is_joist_sistered=True),
            )
        more = replace(kit.bolts, per_row=kit.bolts.per_row + 1)
        yield "more_bolts", f"{more.count} top bolts", replace(kit, bolts=more)
    if code == "washer_bearing":
        larger = replace(kit.bolts, washer_in=LARGER_WASHER_IN)
        yield (
            "larger_plate",
            f"Plate washers {LARGER_WASHER_IN:g} in square",
            replace(kit, bolts=larger),
        )
    if code == "backer_nails":
        more_nails = replace(
            kit.backer,
            nails_per_joist=kit.backer.nails_per_joist + 1,
            nails_per_block=kit.backer.nails_per_block + 1,
        )
        yield (
            "more_nails",
            f"{more_nails.nails_per_joist} nails per joist and block",
            replace(kit, backer=more_nails),
        )
    if code.startswith("anchor_"):
        yield from _anchor_kits(kit)


def _anchor_kits(kit: BraceKit) -> Iterator[tuple[str, str, BraceKit]]:
    third = replace(kit.anchors, count=kit.anchors.count + 1)
    yield "more_anchors", f"{third.count} base anchors", replace(kit, anchors=third)
    deep = replace(kit.anchors, embedment_in=PAD_EMBEDMENT_IN)
    title = f"Slab pad {PAD_IN:g} in thick, anchors {PAD_EMBEDMENT_IN:g} in deep"
    yield "slab_pad", title, replace(kit, anchors=deep, slab_pad_in=PAD_IN)
