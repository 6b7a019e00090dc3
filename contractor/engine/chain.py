"""The whole chain on one survey: layout, screening, bill, drawings, from one set of choices.

The hardware of the bill is the hardware of the screening: one ``Hardware`` goes into both.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from contractor.engine.data.steel_shapes import shapes
from contractor.engine.drawing.elevation import elevation_svg
from contractor.engine.drawing.plan import framing_plan_svg
from contractor.engine.errors import InputError
from contractor.engine.layout.answer import Layout
from contractor.engine.materials.catalogue import read_catalogue
from contractor.engine.materials.document import write_bill
from contractor.engine.materials.hardware import Hardware, read_hardware
from contractor.engine.materials.rates import read_rates, read_travel
from contractor.engine.materials.work import PlacedBrace, WallWork
from contractor.engine.screened_layout import ScreenedLayout, lay_out_screened
from contractor.engine.screening.document import screening_document
from contractor.engine.screening.hardware import DEFAULT_SHAPE, BraceKit, kit_with
from contractor.engine.screening.version import ENGINE_VERSION
from contractor.engine.survey import Survey
from contractor.engine.survey_reader import read_survey
from contractor.engine.units import TICKS_PER_INCH

DEFAULT_KIT = BraceKit()
# What the bill counts unless the company says otherwise: the very kit that is screened.
DEFAULT_HARDWARE: dict[str, Any] = {
    "shape": DEFAULT_SHAPE,
    "through_bolt_diameter": {"value": DEFAULT_KIT.bolts.diameter_in, "unit": "in"},
    "through_bolts_per_bracket": DEFAULT_KIT.bolts.count,
    "anchor_diameter": {"value": DEFAULT_KIT.anchors.diameter_in, "unit": "in"},
    "anchors_per_bracket": DEFAULT_KIT.anchors.count,
    "torque": {"value": DEFAULT_KIT.tightening.torque_lbf_ft, "unit": "lbf ft"},
}


@dataclass(frozen=True)
class Assessment:
    """Documents of one wall, and the figures that a job adds up.

    ``drawings`` are SVG texts: "elevation" and, where joists run along the wall, "framing_plan".
    ``input_hash`` covers survey, settings and engine version: equal hash, equal documents.
    """

    layout: dict[str, Any]
    screening: dict[str, Any]
    bill: dict[str, Any]
    drawings: dict[str, str]
    input_hash: str

    @property
    def labour_minutes(self) -> int:
        return round(float(self.bill["cost"]["labour"]["value"]) * 60)

    @property
    def weight_lb(self) -> float:
        return float(self.bill["lifting"]["total"]["value"])

    @property
    def cost_cents(self) -> int:
        return int(self.bill["cost"]["total_cents"])


def assess(document: object, *, settings: Mapping[str, Any]) -> Assessment:
    """Lay out, screen and count one ``wall-survey/1``.

    ``settings``: ``parts`` (``parts-catalogue/1``) and ``rates`` (``company-rates/1``), and where
    the company differs from the defaults ``hardware``, ``layout_rules`` (members of the survey's
    ``rules``; what the survey itself says goes first) and ``travel``. Raises InputError.
    """
    hardware = read_hardware({**DEFAULT_HARDWARE, **settings.get("hardware", {})})
    survey = read_survey(with_rules(document, settings.get("layout_rules", {})))
    laid_out = lay_out_screened(
        survey, shape=hardware.shape, grade=hardware.grade, kit=kit_of(hardware)
    )
    assert laid_out.screening is not None
    bill = write_bill(
        survey.name,
        [wall_work(survey, laid_out.layout)],
        hardware,
        read_catalogue(settings["parts"]),
        read_rates(settings["rates"]),
        read_travel(settings.get("travel")),
    )
    return Assessment(
        layout=laid_out.document(),
        screening=screening_document(laid_out.screening),
        bill=bill,
        drawings=draw(laid_out, hardware),
        input_hash=hash_of({"survey": document, "settings": dict(settings)}),
    )


def draw(laid_out: ScreenedLayout, hardware: Hardware) -> dict[str, str]:
    """Return the drawings of a wall, with the reasons for an engineer's review under them."""
    survey, layout, screening = laid_out.survey, laid_out.layout, laid_out.screening
    notes = [reason.text for reason in screening.reasons] if screening else []
    flange_in = shapes()[hardware.shape].flange_width_in
    drawings = {"elevation": elevation_svg(survey, layout, flange_in=flange_in, notes=notes)}
    if survey.framing.direction == "parallel":
        drawings["framing_plan"] = framing_plan_svg(survey, layout, hardware)
    return drawings


def with_rules(document: object, rules: Mapping[str, Any]) -> object:
    """Return the survey with the company's ``rules`` under its own."""
    if not rules or not isinstance(document, dict):
        return document
    own = document.get("rules") or {}
    return {**document, "rules": {**rules, **own}} if isinstance(own, dict) else document


def kit_of(hardware: Hardware) -> BraceKit:
    """Return what the screening has to check for this hardware. Raises InputError."""
    try:
        return kit_with(
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
            "A bolt or anchor has a diameter that is not in the tables.",
            "Use 1/2, 5/8, 3/4, 7/8 or 1 in.",
        ) from error


def wall_work(survey: Survey, layout: Layout, name: str | None = None) -> WallWork:
    """Return a laid-out wall as the take-off reads it."""
    return WallWork(
        name or survey.name,
        survey,
        tuple(
            PlacedBrace(
                mark=brace.mark,
                at_ticks=brace.at_ticks,
                beam_ticks=brace.beam_length_ticks,
                is_measured=brace.basis == "measured",
                furring_layers=brace.furring_layers,
                specials=brace.specials,
            )
            for brace in layout.braces
        ),
    )


def hash_of(inputs: Mapping[str, Any]) -> str:
    """Return the SHA-256 of the canonical JSON of ``inputs`` and the engine version."""
    text = json.dumps({**inputs, "engine": ENGINE_VERSION}, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
