"""Documents of materials: ``bill-request/1`` in, ``bill-of-materials/1`` out.

In: ``{"schema": "bill-request/1", "name", "walls": [{"name", "survey": wall-survey/1,
"layout": brace-layout/1}], "hardware", "parts": parts-catalogue/1, "rates": company-rates/1,
"travel": {"distance", "drive"} or null}``. Parts and rates may be left to the caller's defaults.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from contractor.engine.data.steel_shapes import default_grade
from contractor.engine.errors import InputError
from contractor.engine.layout.answer import show_length
from contractor.engine.materials.backer import BackerPlan
from contractor.engine.materials.catalogue import Catalogue, read_catalogue
from contractor.engine.materials.cost import CostSheet, cost_of
from contractor.engine.materials.fields import (
    read_list,
    read_object,
    read_schema,
    read_text,
)
from contractor.engine.materials.hardware import Hardware, read_hardware
from contractor.engine.materials.rates import Rates, Travel, read_rates, read_travel
from contractor.engine.materials.request import check_names, read_wall
from contractor.engine.materials.takeoff import take_off
from contractor.engine.materials.tools import tools_for
from contractor.engine.materials.work import (
    ONE_PERSON_LIFT_LB,
    Line,
    TakeOff,
    WallTakeOff,
    WallWork,
    total_weight_lb,
)
from contractor.engine.units import System, write_length, write_quantity

MAX_WALLS = 40
WARNING = "Counted from the survey and layout; screening is not engineering design."
_REQUEST = {"schema", "name", "walls", "hardware", "parts", "rates", "travel"}


def bill_document(
    document: object,
    *,
    parts: Catalogue | None = None,
    rates: Rates | None = None,
    system: System = "us",
) -> dict[str, Any]:
    """Read a ``bill-request/1``, count, and return ``bill-of-materials/1``. Raises InputError."""
    read_schema(document, "bill-request/1")
    members = read_object(document, "", _REQUEST)
    rows = read_list(members.get("walls"), "/walls", MAX_WALLS)
    catalogue = read_catalogue(members["parts"]) if members.get("parts") else parts
    paid = read_rates(members["rates"]) if members.get("rates") else rates
    for name, found in (("parts", catalogue), ("rates", paid)):
        if found is None:
            raise InputError(
                "missing", f"/{name}", f"No {name} were posted.", f"Post the {name} document."
            )
    assert catalogue is not None and paid is not None
    walls = check_names([read_wall(row, i) for i, row in enumerate(rows)])
    hardware = read_hardware(members.get("hardware"))
    name = members.get("name") or walls[0].name
    return write_bill(
        read_text(name, "/name"),
        *(walls, hardware, catalogue, paid, read_travel(members.get("travel")), system),
    )


def write_bill(
    name: str,
    walls: Sequence[WallWork],
    hardware: Hardware,
    catalogue: Catalogue,
    rates: Rates,
    travel: Travel | None = None,
    system: System = "us",
) -> dict[str, Any]:
    """Count ``walls`` and return ``bill-of-materials/1``."""
    takeoff = take_off(walls, hardware, catalogue)
    cost = cost_of(takeoff, rates, travel)
    return {
        "schema": "bill-of-materials/1",
        "name": name,
        "hardware": _write_hardware(hardware, system),
        "lines": [_write_line(line, i + 1, system) for i, line in enumerate(takeoff.lines)],
        "backers": [_write_backer(wall, hardware, system) for wall in takeoff.walls if wall.backer],
        "kits": _write_kits(takeoff, system),
        "lifting": _write_lifting(takeoff, system),
        "tools": [
            {"tool": t.tool, "size": t.size, "use": t.use, "source": t.source}
            for t in tools_for(takeoff)
        ],
        "cost": _write_cost(cost, system),
        "unknowns": [text for wall in takeoff.walls for text in wall.unknowns] + takeoff.gaps(),
        "cautions": [WARNING] + [text for wall in takeoff.walls for text in wall.cautions],
    }


# ---------------------------------------------------------------- out


def _write_size(ticks: int, system: System) -> dict[str, Any]:
    """Return a diameter, as text the way it is stamped: 5/8 in."""
    return write_length(ticks, system) | {"text": show_length(ticks, system)}


def _write_hardware(hardware: Hardware, system: System) -> dict[str, Any]:
    return {
        "shape": hardware.shape,
        "grade": hardware.grade or default_grade(hardware.shape),
        "through_bolts_per_bracket": hardware.through_bolts_per_bracket,
        "through_bolt_diameter": _write_size(hardware.through_bolt_diameter_ticks, system),
        "anchors_per_bracket": hardware.anchors_per_bracket,
        "anchor_diameter": _write_size(hardware.anchor_diameter_ticks, system),
        "fastening": hardware.fastening,
        "fasteners": {
            "per_block_end": hardware.counts.per_block_end,
            "per_block_through_backer": hardware.counts.per_block_through_backer,
            "per_joist_through_backer": hardware.counts.per_joist_through_backer,
        },
        "torque": write_quantity(hardware.torque_lbf_ft, "lbf ft", system),
    }


def _write_line(line: Line, number: int, system: System) -> dict[str, Any]:
    part = line.part
    written: dict[str, Any] = {
        "line": number,
        "wall": line.wall,
        "part": part.code,
        "role": part.role,
        "kind": part.kind,
        "description": part.description,
        "count": line.count,
        "weight": write_quantity(round(line.weight_lb, 2), "lb", system),
        "because": line.because,
        "basis": "provisional" if line.is_provisional else "counted",
    }
    if part.kind == "consumable":
        written["packs"] = {"size": part.pack_size, "count": line.packs}
    if part.kind == "bar":
        written["profile"], written["grade"] = part.profile, part.grade
        written["pieces"] = [
            {
                "mark": piece.mark,
                "length": write_length(piece.length_ticks, system),
                "weight": write_quantity(round(weight, 2), "lb", system),
                "basis": "measured" if piece.is_measured else "provisional",
            }
            for piece, weight in zip(line.pieces, line.piece_weights_lb(), strict=True)
        ]
    return written


def _write_backer(wall: WallTakeOff, hardware: Hardware, system: System) -> dict[str, Any]:
    plan = wall.backer
    assert isinstance(plan, BackerPlan)
    return {
        "wall": wall.work.name,
        "braces": [brace.mark for brace in wall.work.braces],
        "length": write_length(plan.length_ticks, system),
        "joist_thickness": write_length(plan.joist_thickness_ticks, system),
        "joists": [write_length(c, system) for c in plan.joist_ticks],
        "blocks": [
            {
                "from": write_length(block.from_ticks, system),
                "clear": write_length(block.clear_ticks, system),
                "cut": write_length(block.cut_ticks, system),
                "stagger": write_length(block.stagger_ticks, system),
                "basis": "measured" if block.is_measured else "provisional",
            }
            for block in plan.blocks
        ],
        "fasteners": {"kind": hardware.fastening, **plan.fasteners(hardware.counts)},
        "basis": "measured" if plan.is_measured else "provisional",
    }


def _write_kits(takeoff: TakeOff, system: System) -> list[dict[str, Any]]:
    kits = [(wall.work.name, wall.lines) for wall in takeoff.walls]
    return [
        {
            "wall": name,
            "braces": len(wall.work.braces),
            "weight": write_quantity(round(total_weight_lb(lines), 1), "lb", system),
        }
        for (name, lines), wall in zip(kits, takeoff.walls, strict=True)
    ]


def _write_lifting(takeoff: TakeOff, system: System) -> dict[str, Any]:
    heavy = takeoff.heavy_pieces()
    limit = write_quantity(ONE_PERSON_LIFT_LB, "lb", system)
    caution = None
    if heavy:
        most = write_quantity(round(max(weight for _, _, weight in heavy), 1), "lb", system)
        caution = (
            f"{len(heavy)} pieces weigh more than {limit['text']}, the heaviest {most['text']}: "
            "two people lift, or a lift does."
        )
    return {
        "limit": limit,
        "source": "NIOSH 94-110, load constant; the limit falls with reach, height and twist",
        "heavy_pieces": len(heavy),
        "total": write_quantity(round(total_weight_lb(takeoff.lines), 1), "lb", system),
        "caution": caution,
    }


def _write_cost(cost: CostSheet, system: System) -> dict[str, Any]:
    return {
        "currency": cost.currency,
        "lines": [
            {
                "kind": line.kind,
                "what": line.what,
                "part": line.part,
                "quantity": line.quantity,
                "cents": line.cents,
                "origin": line.origin,
            }
            for line in cost.lines
        ],
        "labour": write_quantity(cost.hours, "h", system),
        "trips": cost.trips,
        "material_cents": cost.total("material"),
        "labour_cents": cost.total("labour"),
        "travel_cents": cost.total("travel"),
        "total_cents": cost.total(),
    }
