"""Write a screening as a ``screening/1`` document: everything the calculation sheet prints.

The same screening always gives the same document: no date, no clock, sorted keys in the hash.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from contractor.engine.screening.answer import Bay, BraceClass, Governing, Screening
from contractor.engine.screening.case import Case
from contractor.engine.screening.checks import Check, Number, Step, plain
from contractor.engine.screening.findings import DISCLAIMER, Note, Reason
from contractor.engine.screening.remedies import Remedy, would_help
from contractor.engine.screening.sensitivity import Sensitivity, sensitivity
from contractor.engine.screening.spacing import SpacingLimit
from contractor.engine.screening.torque import force_range_lbf
from contractor.engine.screening.version import ENGINE_VERSION
from contractor.engine.units import System, write_length, write_quantity

SCHEMA = "screening/1"
Document = dict[str, Any]


def input_hash(screening: Screening) -> str:
    """Return sha256 over the canonical JSON of survey, positions, beam, kit and assumptions."""
    case = screening.case
    given = {
        "survey": asdict(case.survey),
        "positions": screening.positions,
        "shape": case.shape.name,
        "grade": case.grade.name,
        "kit": asdict(case.kit),
        "assumptions": asdict(case.assumptions),
    }
    text = json.dumps(given, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()


def screening_document(
    screening: Screening,
    system: System = "us",
    *,
    remedies: Sequence[Remedy] | None = None,
) -> Document:
    """Return the document; ``remedies`` None: worked out here, without prices."""
    offered = would_help(screening) if remedies is None else remedies
    writer = _Writer(system)
    return {
        "schema": SCHEMA,
        "engine_version": ENGINE_VERSION,
        "input_hash": input_hash(screening),
        "wall": screening.case.survey.name,
        "outcome": screening.outcome,
        "disclaimer": DISCLAIMER,
        "reasons": [_reason(reason) for reason in screening.reasons],
        "assumptions": [_note(note) for note in screening.case.assumed],
        "unknowns": [_note(note) for note in screening.case.unknowns],
        "cautions": [_note(note) for note in screening.cautions],
        "beam": writer.beam(screening.case),
        "fixings": writer.fixings(screening.case),
        "soil": writer.soil(screening.case),
        "braces": writer.braces(screening),
        "classes": [writer.brace_class(group) for group in screening.classes],
        "bays": [writer.bay(bay) for bay in screening.bays],
        "governing": writer.governing(screening.governing),
        "spacing_limit": writer.spacing_limit(screening.limit),
        "torque": writer.torque(screening),
        "handling": writer.handling(screening),
        "sensitivity": [_sensitivity(item) for item in sensitivity(screening)],
        "would_help": [writer.remedy(remedy) for remedy in offered],
        "engineer_note": "",
    }


def _reason(reason: Reason) -> Document:
    return {
        "code": reason.code,
        "kind": reason.kind,
        "text": reason.text,
        "source": reason.source,
        "basis": reason.basis,
    }


def _note(note: Note) -> Document:
    return {"code": note.code, "text": note.text, "source": note.source}


def _ratio(value: float | None) -> float | None:
    """Return a utilization; None where nothing was computed or there is no strength at all."""
    return None if value is None or not math.isfinite(value) else round(value, 6)


def _sensitivity(item: Sensitivity) -> Document:
    return {
        "code": item.code,
        "title": item.title,
        "utilization": _ratio(item.utilization),
        "governs": item.governs,
    }


class _Writer:
    """Writes quantities in one system of units."""

    def __init__(self, system: System) -> None:
        self._system = system

    def quantity(self, value: float, unit: str) -> Document:
        if not unit:
            return {"value": round(value, 6), "unit": "1", "text": plain(value)}
        return write_quantity(value, unit, self._system)

    def length(self, ticks: int) -> Document:
        return write_length(ticks, self._system)

    def beam(self, case: Case) -> Document:
        shape, grade = case.shape, case.grade
        return {
            "shape": shape.name,
            "grade": grade.name,
            "yield_strength": self.quantity(grade.fy_ksi, "ksi"),
            "weight": self.quantity(shape.weight_lb_per_ft, "lb/ft"),
            "depth": self.quantity(shape.depth_in, "in"),
            "moment_of_inertia": self.quantity(shape.ix_in4, "in4"),
        }

    def fixings(self, case: Case) -> Document:
        """Return the kit; all of it is the company's choice (common practice)."""
        bolts, anchors, tight = case.kit.bolts, case.kit.anchors, case.kit.tightening
        backer = case.kit.backer
        return {
            "basis": "common practice",
            "top_bolts": {
                "count": bolts.count,
                "diameter": self.quantity(bolts.diameter_in, "in"),
                "plate_washer": self.quantity(bolts.washer_in, "in"),
                "joist_sistered": case.kit.is_joist_sistered,
            },
            "backer": {
                "length": self.quantity(backer.length_in, "in"),
                "nail": backer.nail.name,
                "nails_per_joist": backer.nails_per_joist,
                "nails_per_block": backer.nails_per_block,
            }
            if case.is_parallel
            else None,
            "base_anchors": {
                "count": anchors.count,
                "diameter": self.quantity(anchors.diameter_in, "in"),
                "embedment": self.quantity(anchors.embedment_in, "in"),
                "spacing": self.quantity(anchors.spacing_in, "in"),
                "edge_distance": self.quantity(case.shape.depth_in + anchors.setback_in, "in"),
            },
            "tightening_bolt": self.quantity(tight.diameter_in, "in"),
            "gap_packed": case.kit.is_gap_packed,
        }

    def soil(self, case: Case) -> Document | None:
        ground = case.ground
        if ground is None:
            return None
        return {
            "class": ground.fluid.uscs,
            "equivalent_fluid_weight": self.quantity(ground.fluid.psf_per_ft, "psf/ft"),
            "rule": ground.fluid.rule,
            "clause": ground.fluid.clause,
            "basis": ground.fluid.basis,
            "fill_height": self.quantity(ground.fill_in, "in"),
            "water_height": self.quantity(ground.water_in, "in"),
            "surcharge": self.quantity(ground.surcharge_psf, "psf"),
            "layers": [
                {
                    "bottom": self.quantity(layer.bottom_in, "in"),
                    "top": self.quantity(layer.top_in, "in"),
                    "pressure_at_bottom": self.quantity(layer.bottom_psf, "psf"),
                    "pressure_at_top": self.quantity(layer.top_psf, "psf"),
                }
                for layer in case.layers
            ],
        }

    def braces(self, screening: Screening) -> list[Document]:
        worst = {group.name: group.worst for group in screening.classes}
        return [
            {
                "mark": brace.mark,
                "at": self.length(brace.at_ticks),
                "tributary_width": self.length(brace.tributary_ticks),
                "span": self.quantity(brace.span_in, "in"),
                "class": brace.class_name,
                "governs": check.code if (check := worst.get(brace.class_name)) else None,
                "utilization": _ratio(check.utilization) if check else None,
            }
            for brace in screening.braces
        ]

    def brace_class(self, group: BraceClass) -> Document:
        load = group.demand
        return {
            "name": group.name,
            "marks": list(group.marks),
            "tributary_width": self.quantity(load.tributary_in, "in"),
            "span": self.quantity(load.span_in, "in"),
            "total": self.quantity(load.total_lbf, "lbf"),
            "reaction_top": self.quantity(load.top_lbf, "lbf"),
            "reaction_base": self.quantity(load.bottom_lbf, "lbf"),
            "shear": self.quantity(load.shear_lbf, "lbf"),
            "moment": self.quantity(load.moment_lbf_in / 1000, "kip in"),
            "moment_at": self.quantity(load.moment_at_in, "in"),
            "deflection_at": self.quantity(load.deflection_at_in, "in"),
            "lines": [self.line(step) for step in load.steps],
            "checks": [self.check(check) for check in group.checks],
        }

    def check(self, check: Check) -> Document:
        has_numbers = check.demand is not None and check.capacity is not None
        return {
            "code": check.code,
            "title": check.title,
            "demand": self.quantity(check.demand or 0.0, check.unit) if has_numbers else None,
            "capacity": self.quantity(check.capacity or 0.0, check.unit) if has_numbers else None,
            "utilization": _ratio(check.utilization),
            "passes": check.passes,
            "clause": check.clause,
            "basis": check.basis,
            "not_computed": check.reason or None,
            "inputs": [self.number(number) for number in check.inputs],
            "lines": [self.line(step) for step in check.steps],
        }

    def number(self, number: Number) -> Document:
        return {
            "symbol": number.symbol,
            "label": number.label,
            "value": self.quantity(number.value, number.unit),
            "basis": number.basis,
        }

    def line(self, step: Step) -> Document:
        """Return a line; codes are written in inches and pounds, so are the numbers put in."""
        return {
            "symbol": step.symbol,
            "label": step.label,
            "formula": step.formula,
            "substituted": step.substituted,
            "result": self.quantity(step.value, step.unit),
            "clause": step.clause,
            "basis": step.basis,
        }

    def bay(self, bay: Bay) -> Document:
        return {
            "from": bay.from_mark,
            "to": bay.to_mark,
            "width": self.length(bay.width_ticks),
            "check": self.check(bay.check),
        }

    def governing(self, governing: Governing | None) -> Document | None:
        if governing is None:
            return None
        return {
            "where": governing.where,
            "code": governing.check.code,
            "title": governing.check.title,
            "utilization": _ratio(governing.check.utilization),
        }

    def spacing_limit(self, limit: SpacingLimit) -> Document:
        def written(ticks: int | None) -> Document | None:
            return None if ticks is None else self.length(ticks)

        return {
            "value": written(limit.ticks),
            "carries": written(limit.carries_ticks),
            "corner": written(limit.corner_ticks),
            "governs": limit.governs,
            "note": limit.note,
        }

    def torque(self, screening: Screening) -> Document | None:
        limit, packed = screening.torque, screening.torque_if_packed
        if limit is None or limit.allowed_lbf_ft is None:
            return None
        bolt = screening.case.kit.tightening
        if_packed = packed.allowed_lbf_ft if packed else None
        low, nominal, high = force_range_lbf(limit.allowed_lbf_ft, bolt)
        return {
            "allowed": self.quantity(limit.allowed_lbf_ft, "lbf ft"),
            "if_gap_packed": None if if_packed is None else self.quantity(if_packed, "lbf ft"),
            "company": self.quantity(limit.company_lbf_ft, "lbf ft"),
            "governs": limit.governs,
            "note": limit.note,
            "bolt": self.quantity(bolt.diameter_in, "in"),
            "friction": bolt.friction,
            "force_low": self.quantity(low, "lbf"),
            "force": self.quantity(nominal, "lbf"),
            "force_high": self.quantity(high, "lbf"),
            "limits": [
                {
                    "code": item.code,
                    "title": item.title,
                    "force": self.quantity(item.force_lbf, "lbf"),
                    "torque": self.quantity(item.torque_lbf_ft, "lbf ft"),
                    "clause": item.clause,
                }
                for item in limit.limits
            ],
            "clause": "T = K D F, scatter 30 %",
            "basis": "read",
        }

    def handling(self, screening: Screening) -> Document | None:
        lift = screening.handling
        if lift is None:
            return None
        return {
            "beam_weight": self.quantity(lift.beam_weight_lb, "lb"),
            "limit_per_person": self.quantity(lift.limit_lb, "lb"),
            "lifters": lift.lifters,
            "lifting_index": _ratio(lift.lifting_index),
            "lifters_needed": lift.lifters_needed,
            "clause": "NIOSH revised lifting equation, DHHS 94-110",
            "basis": "read",
        }

    def remedy(self, remedy: Remedy) -> Document:
        change = remedy.change
        return {
            "code": remedy.code,
            "title": remedy.title,
            "helps": remedy.helps,
            "utilization": _ratio(remedy.utilization),
            "overall": _ratio(remedy.overall),
            "governs": remedy.governs,
            "shape": change.shape,
            "spacing": None if change.spacing_ticks is None else self.length(change.spacing_ticks),
            "cost_cents": remedy.cost_cents,
        }
