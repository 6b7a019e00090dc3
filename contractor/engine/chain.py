"""The whole chain: survey -> layout -> screening -> bill of materials -> drawings.

Layout and screening agree: the layout never spaces braces wider than the screening carries, with
the same hardware that the bill then counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from contractor.engine.drawing import elevation_svg, framing_plan_svg
from contractor.engine.drawing.canvas import CanvasName
from contractor.engine.errors import InputError
from contractor.engine.layout import Layout
from contractor.engine.materials import (
    Catalogue,
    Hardware,
    Rates,
    Travel,
    WallWork,
    cost_of,
    take_off,
    work_of,
    write_bill,
)
from contractor.engine.screened_layout import ScreenedLayout, lay_out_screened
from contractor.engine.screening.document import screening_document
from contractor.engine.screening.hardware import Assumptions, BraceKit, kit_with
from contractor.engine.screening.whatif import Priced, Variant
from contractor.engine.survey import Survey
from contractor.engine.survey_reader import read_survey
from contractor.engine.units import TICKS_PER_INCH, System

Document = dict[str, Any]
SHEET_CANVASES: tuple[CanvasName, ...] = ("column", "phone")


@dataclass(frozen=True)
class Shop:
    """What a company works with: parts, rates, its usual hardware and assumptions."""

    catalogue: Catalogue
    rates: Rates
    hardware: Hardware = field(default_factory=Hardware)
    assumptions: Assumptions | None = None


def kit_of(hardware: Hardware) -> BraceKit:
    """Return ``hardware`` as the screening sees it. Raises InputError for sizes without data."""
    try:
        kit = kit_with(
            bolt_count=hardware.through_bolts_per_bracket,
            bolt_diameter_in=hardware.through_bolt_diameter_ticks / TICKS_PER_INCH,
            anchor_count=hardware.anchors_per_bracket,
            anchor_diameter_in=hardware.anchor_diameter_ticks / TICKS_PER_INCH,
            torque_lbf_ft=hardware.torque_lbf_ft,
        )
    except ValueError as error:
        raise InputError(
            "unknown_bolt_size",
            "/hardware",
            "The screening has no data for this bolt or anchor diameter.",
            "Choose 1/2, 5/8, 3/4, 7/8 or 1 in.",
        ) from error
    backer = replace(
        kit.backer,
        length_in=hardware.backer_ticks / TICKS_PER_INCH,
        nails_per_joist=hardware.counts.per_joist_through_backer,
        nails_per_block=hardware.counts.per_block_through_backer,
    )
    return replace(kit, backer=backer)


def lay_out_and_screen(survey: Survey, shop: Shop) -> ScreenedLayout:
    """Return layout and screening with the shop's hardware. Raises InputError."""
    hardware = shop.hardware
    return lay_out_screened(
        survey,
        shape=hardware.shape,
        grade=hardware.grade,
        kit=kit_of(hardware),
        assumptions=shop.assumptions,
    )


def assess(
    document: object,
    shop: Shop,
    *,
    travel: Travel | None = None,
    system: System = "us",
    canvas: CanvasName = "a4",
    has_sheets: bool = False,
) -> Document:
    """Return every document of one wall; see ``assess_house``."""
    found = assess_house(
        [document], shop, travel=travel, system=system, canvas=canvas, has_sheets=has_sheets
    )
    return {**found["walls"][0], "bill": found["bill"]}


def assess_house(
    documents: Sequence[object],
    shop: Shop,
    *,
    name: str | None = None,
    travel: Travel | None = None,
    system: System = "us",
    canvas: CanvasName = "a4",
    has_sheets: bool = False,
) -> Document:
    """Return layout, screening and drawings of each surveyed wall, and one bill for the job.

    With ``has_sheets`` each wall also has "sheet_drawings": canvas -> bare elevation (SVG).
    Walls without a layout are left out of the bill; with none at all it is None. Raises
    InputError as reader, layout, screening and materials do.
    """
    screened = [lay_out_and_screen(read_survey(document), shop) for document in documents]
    works = _works(screened)
    title = name or screened[0].survey.name or "job"
    bill = None
    if works:
        hardware, catalogue, rates = shop.hardware, shop.catalogue, shop.rates
        bill = write_bill(title, works, hardware, catalogue, rates, travel, system)
    walls = [_wall_documents(found, shop, system, canvas) for found in screened]
    if has_sheets:
        for wall, found in zip(walls, screened, strict=True):
            wall["sheet_drawings"] = sheet_drawings(found, system)
    return {"walls": walls, "bill": bill}


def _works(screened: Sequence[ScreenedLayout]) -> list[WallWork]:
    """Return the work of walls that have a layout, each under its own name."""
    works: list[WallWork] = []
    for number, found in enumerate(screened, start=1):
        if found.layout.no_answer is None:
            name = found.survey.name or f"wall {number}"
            if any(work.name == name for work in works):
                name = f"{name} ({number})"
            works.append(work_of(found.survey, found.layout, name))
    return works


def _wall_documents(
    found: ScreenedLayout, shop: Shop, system: System, canvas: CanvasName
) -> Document:
    survey, layout, screening = found.survey, found.layout, found.screening
    assert screening is not None
    notes = review_notes(found)
    flange = screening.case.shape.flange_width_in
    is_parallel = survey.framing.direction == "parallel"
    plan = None
    if is_parallel:
        plan = framing_plan_svg(
            *(survey, layout, shop.hardware), canvas=canvas, system=system, notes=notes
        )
    return {
        "layout": found.document(system),
        "screening": screening_document(screening, system),
        "drawing": elevation_svg(
            *(survey, layout), canvas=canvas, system=system, flange_in=flange, notes=notes
        ),
        "framing_plan": plan,
    }


def sheet_drawings(found: ScreenedLayout, system: System = "us") -> dict[str, str]:
    """Return the elevation without title and schedule, for a sheet's "column" and "phone"."""
    assert found.screening is not None
    flange = found.screening.case.shape.flange_width_in
    return {
        canvas: elevation_svg(
            *(found.survey, found.layout),
            canvas=canvas,
            system=system,
            flange_in=flange,
            ident=f"elevation-{canvas}",
            is_bare=True,
        )
        for canvas in SHEET_CANVASES
    }


def review_notes(found: ScreenedLayout) -> list[str]:
    """Return what a drawing must say: the outcome, and why an engineer must look."""
    if found.screening is None:
        return []
    reasons = [reason.text for reason in found.screening.reasons]
    outcome = found.screening.outcome.capitalize()
    return [f"{outcome}: {reasons[0]}", *reasons[1:]] if reasons else [f"{outcome}."]


def prices(shop: Shop, travel: Travel | None = None) -> Priced:
    """Return how a what-if prices its variants: cents and labour hours of the whole job."""

    def price(variant: Variant, survey: Survey, layout: Layout) -> tuple[int, float]:
        hardware = _hardware_of(shop.hardware, variant)
        takeoff = take_off([work_of(survey, layout)], hardware, shop.catalogue)
        cost = cost_of(takeoff, shop.rates, travel)
        return cost.total(), cost.hours

    return price


def _hardware_of(hardware: Hardware, variant: Variant) -> Hardware:
    """Return the hardware that a variant is screened with, so that it is also what is priced."""
    changed = replace(hardware, shape=variant.shape, grade=variant.grade)
    kit = variant.kit
    if kit is None:
        return changed
    return replace(
        changed,
        through_bolts_per_bracket=kit.bolts.count,
        through_bolt_diameter_ticks=round(kit.bolts.diameter_in * TICKS_PER_INCH),
        anchors_per_bracket=kit.anchors.count,
        anchor_diameter_ticks=round(kit.anchors.diameter_in * TICKS_PER_INCH),
        torque_lbf_ft=kit.tightening.torque_lbf_ft,
    )
