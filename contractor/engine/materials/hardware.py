"""What hardware a job uses: shape, bolts, anchors, nails or screws. Company defaults as data."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal, cast

from contractor.engine.errors import InputError
from contractor.engine.materials.fields import read_choice, read_count, read_object, read_text
from contractor.engine.units import read_length, read_quantity

Fastening = Literal["nails", "screws"]


@dataclass(frozen=True)
class FastenerCounts:
    """How many nails (or screws) go where; common practice, company-editable."""

    per_block_end: int = 3
    per_block_through_backer: int = 3
    per_joist_through_backer: int = 3


@dataclass(frozen=True)
class Hardware:
    """Choice for one job; the defaults are common practice (no published source).

    They are those that the screening looks at. ``grade`` None: the shape's usual grade.

    ``first_bay_clear_ticks`` is the measured clear width between rim and first joist where
    joists run parallel, None where nobody measured it. ``assumed_joist_spacing_ticks`` is used,
    and said on the bill, only where the joist centres were not measured.
    """

    shape: str = "S5x10"
    grade: str | None = None
    through_bolt_diameter_ticks: int = 40
    through_bolts_per_bracket: int = 4
    plate_washers_per_bolt: int = 1
    washers_per_bolt: int = 1
    anchor_diameter_ticks: int = 40
    anchors_per_bracket: int = 2
    fastening: Fastening = "nails"
    counts: FastenerCounts = field(default_factory=FastenerCounts)
    screws_per_furring_piece: int = 4
    backer_ticks: int = 96 * 64
    assumed_joist_spacing_ticks: int = 16 * 64
    first_bay_clear_ticks: int | None = None
    kerf_ticks: int = 8
    torque_lbf_ft: float = 50.0


_COUNTS = {
    "through_bolts_per_bracket": (1, 12),
    "washers_per_bolt": (0, 4),
    "plate_washers_per_bolt": (0, 2),
    "anchors_per_bracket": (1, 8),
    "screws_per_furring_piece": (0, 40),
}
_LENGTHS = {
    "through_bolt_diameter": "through_bolt_diameter_ticks",
    "anchor_diameter": "anchor_diameter_ticks",
    "backer_length": "backer_ticks",
    "assumed_joist_spacing": "assumed_joist_spacing_ticks",
    "first_bay_clear": "first_bay_clear_ticks",
    "kerf": "kerf_ticks",
}
_NAILS = ("per_block_end", "per_block_through_backer", "per_joist_through_backer")
_MEMBERS = {"shape", "grade", "fastening", "fasteners", "torque", *_COUNTS, *_LENGTHS}


def read_hardware(document: object, pointer: str = "/hardware") -> Hardware:
    """Read the hardware object; every member is optional. Raises InputError."""
    if document is None:
        return Hardware()
    members = read_object(document, pointer, _MEMBERS)
    chosen: dict[str, Any] = {}
    for name in ("shape", "grade"):
        if members.get(name) is not None:
            chosen[name] = read_text(members[name], f"{pointer}/{name}", most=40)
    for name, (least, most) in _COUNTS.items():
        if members.get(name) is not None:
            chosen[name] = read_count(members[name], f"{pointer}/{name}", most, least)
    for name, attribute in _LENGTHS.items():
        if members.get(name) is not None:
            chosen[attribute] = _positive_length(members[name], f"{pointer}/{name}")
    if members.get("fastening") is not None:
        choice = read_choice(members["fastening"], f"{pointer}/fastening", ("nails", "screws"))
        chosen["fastening"] = cast(Fastening, choice)
    if members.get("fasteners") is not None:
        chosen["counts"] = _read_counts(members["fasteners"], f"{pointer}/fasteners")
    if members.get("torque") is not None:
        chosen["torque_lbf_ft"] = read_quantity(members["torque"], "lbf ft", f"{pointer}/torque")
    return Hardware(**chosen)


def _positive_length(value: object, pointer: str) -> int:
    ticks = read_length(value, pointer)
    if ticks <= 0:
        raise InputError(
            "length_not_positive", pointer, "The length must be above zero.", "Measure it."
        )
    return ticks


def _read_counts(value: object, pointer: str) -> FastenerCounts:
    members = read_object(value, pointer, _NAILS)
    return FastenerCounts(
        **{
            name: read_count(members[name], f"{pointer}/{name}", most=20)
            for name in _NAILS
            if members.get(name) is not None
        }
    )
