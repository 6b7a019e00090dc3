"""Through bolts with washers and nuts: the shortest bolt that passes the grip."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from contractor.engine.data.wrenches import NUT_HEIGHTS_IN
from contractor.engine.errors import InputError
from contractor.engine.materials.catalogue import Catalogue, Part
from contractor.engine.materials.hardware import Hardware
from contractor.engine.units import TICKS_PER_INCH, format_length

#: Threads showing beyond the nut; common practice.
THREAD_BEYOND_NUT_TICKS = 8


def of_diameter(catalogue: Catalogue, role: str, ticks: int) -> list[Part]:
    return [part for part in catalogue.with_role(role) if part.diameter_ticks == ticks]


@dataclass(frozen=True)
class BoltSet:
    bolt: Part
    plate_washer: Part
    washer: Part
    nut: Part


def bolt_set(catalogue: Catalogue, hardware: Hardware, grip_ticks: int) -> BoltSet:
    """Return the bolt with its washers and nut for ``grip_ticks`` of wood and bracket.

    The plate washer lies on the wood, the flat washer under the nut.

    Raises InputError where the catalogue has no bolt that is long enough.
    """
    diameter = hardware.through_bolt_diameter_ticks
    size = format_length(diameter)
    nut = catalogue.one("nut", size, of_diameter(catalogue, "nut", diameter))
    washer = catalogue.one("washer", size, of_diameter(catalogue, "washer", diameter))
    plates = of_diameter(catalogue, "plate_washer", diameter)
    plate = catalogue.one("plate_washer", size, plates)
    wanted = grip_ticks + hardware.washers_per_bolt * (washer.thickness_ticks or 0)
    wanted += hardware.plate_washers_per_bolt * (plate.thickness_ticks or 0)
    wanted += nut_height_ticks(diameter) + THREAD_BEYOND_NUT_TICKS
    long_enough = sorted(
        (
            part
            for part in of_diameter(catalogue, "through_bolt", diameter)
            if (part.length_ticks or 0) >= wanted
        ),
        key=lambda part: (part.length_ticks or 0, part.code),
    )
    text = f"{size}, {format_length(wanted)} or longer"
    bolt = catalogue.one("through_bolt", text, long_enough[:1])
    return BoltSet(bolt, plate, washer, nut)


def nut_height_ticks(diameter_ticks: int) -> int:
    """Return the height of a hex nut in whole ticks, rounded up.

    Raises InputError for a diameter outside the table (ASME B18.2.2).
    """
    height = NUT_HEIGHTS_IN.get(Fraction(diameter_ticks, TICKS_PER_INCH))
    if height is None:
        raise InputError(
            "unknown_bolt_size",
            "/hardware/through_bolt_diameter",
            f"There is no nut for {format_length(diameter_ticks, 64)} in the table.",
            "Choose 1/2, 5/8, 3/4, 7/8 or 1 in.",
        )
    return -(-height.numerator * TICKS_PER_INCH // height.denominator)
