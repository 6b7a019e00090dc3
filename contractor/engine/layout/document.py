"""A layout as a ``brace-layout/1`` document."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from contractor.engine.layout.answer import Brace, Layout, NoAnswer
from contractor.engine.survey import Survey
from contractor.engine.units import System, write_length

SCHEMA = "brace-layout/1"


def layout_document(
    layout: Layout,
    survey: Survey,
    system: System = "us",
    *,
    review: Iterable[tuple[str, str]] = (),
    cautions: Iterable[str] = (),
) -> dict[str, Any]:
    """Return the document; ``review`` are (code, text) pairs and ``cautions`` texts of the
    screening, to which the layout adds its own cautions.
    """
    largest = layout.largest_spacing_ticks
    return {
        "schema": SCHEMA,
        "braces": [_brace(brace, system) for brace in layout.braces],
        "spacings": [write_length(ticks, system) for ticks in layout.spacings_ticks],
        "largest_spacing": None if largest is None else write_length(largest, system),
        "spacing_limit": {
            "value": write_length(layout.spacing_limit_ticks, system),
            "from": layout.spacing_limit_from,
        },
        "no_answer": None if layout.no_answer is None else _no_answer(layout.no_answer, system),
        "review": [{"code": code, "text": text} for code, text in review],
        "cautions": [*cautions, *layout_cautions(layout, survey)],
    }


def layout_cautions(layout: Layout, survey: Survey) -> list[str]:
    """Return what a reader of the layout must know about its input."""
    cautions = []
    provisional = [brace.mark for brace in layout.braces if brace.basis == "provisional"]
    if provisional:
        cautions.append(
            f"Beam lengths of {', '.join(provisional)} are provisional: measure the height at "
            "the brace before sawing."
        )
    if survey.rounded:
        cautions.append(
            f"{len(survey.rounded)} metric lengths of the survey were kept to the nearest "
            "1/64 in (0.4 mm)."
        )
    if not layout.braces and layout.no_answer is None:
        cautions.append("The wall is shorter than two least corner distances: no brace is needed.")
    return cautions


def _brace(brace: Brace, system: System) -> dict[str, Any]:
    return {
        "mark": brace.mark,
        "at": write_length(brace.at_ticks, system),
        "joist": brace.joist,
        "side": brace.side,
        "specials": list(brace.specials),
        "furring_layers": brace.furring_layers,
        "beam_length": write_length(brace.beam_length_ticks, system),
        "basis": brace.basis,
        "because": [remark.text(system) for remark in brace.because],
    }


def _no_answer(report: NoAnswer, system: System) -> dict[str, Any]:
    return {
        "from": write_length(report.from_ticks, system),
        "to": write_length(report.to_ticks, system),
        "largest_gap": write_length(report.largest_gap_ticks, system),
        "would_help": [remark.text(system) for remark in report.would_help],
    }
