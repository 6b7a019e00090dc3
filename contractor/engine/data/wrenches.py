"""Wrench openings, bolt holes and masonry bits by nominal fastener diameter.

Widths across flats: ASME B18.2.1 (hex bolt heads; from memory, confirm) and ASME B18.2.2 (hex
and heavy hex nuts; read in reproductions of the table). Holes: AISC 360 Table J3.3, standard
holes (read in a third-party reproduction); the 1 in hole differs by edition. Masonry bits:
wedge anchors take a bit of the anchor's nominal diameter, hole at least 1/2 in deeper than the
embedment (read, general guides); the maker's data always govern.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class HexSize:
    """Inches, exactly. ``standard_hole`` is None where editions disagree; see ``hole_note``."""

    bolt_head: Fraction
    hex_nut: Fraction
    heavy_hex_nut: Fraction
    standard_hole: Fraction | None
    nut_height: Fraction
    hole_note: str = ""


def _in(whole: int, top: int = 0, bottom: int = 1) -> Fraction:
    return whole + Fraction(top, bottom)


#: Nut heights (ASME B18.2.2, hex): from memory, confirm; only used to choose bolt lengths.
HEX_SIZES: dict[Fraction, HexSize] = {
    _in(0, 1, 2): HexSize(
        *(_in(0, 3, 4), _in(0, 3, 4), _in(0, 7, 8), _in(0, 9, 16), _in(0, 7, 16)),
    ),
    _in(0, 5, 8): HexSize(
        *(_in(0, 15, 16), _in(0, 15, 16), _in(1, 1, 16), _in(0, 11, 16), _in(0, 35, 64)),
    ),
    _in(0, 3, 4): HexSize(
        *(_in(1, 1, 8), _in(1, 1, 8), _in(1, 1, 4), _in(0, 13, 16), _in(0, 41, 64)),
    ),
    _in(0, 7, 8): HexSize(
        *(_in(1, 5, 16), _in(1, 5, 16), _in(1, 7, 16), _in(0, 15, 16), _in(0, 3, 4)),
    ),
    _in(1): HexSize(
        *(_in(1, 1, 2), _in(1, 1, 2), _in(1, 5, 8), None, _in(0, 55, 64)),
        hole_note="1-1/16 in (AISC 360-10 and older) or 1-1/8 in (360-16 and later)",
    ),
}

#: Hole for a bolt in wood: 1/32 to 1/16 in over the bolt (NDS 12.1.3; from memory, confirm).
WOOD_HOLE_OVERSIZE = Fraction(1, 16)
#: Depth of an anchor hole beyond the embedment.
ANCHOR_HOLE_EXTRA = Fraction(1, 2)
WRENCH_SOURCE = "ASME B18.2.1 (bolt heads; from memory, confirm), ASME B18.2.2 (nuts)"
HOLE_SOURCE = "AISC 360 Table J3.3, standard holes"
WOOD_HOLE_SOURCE = "NDS 12.1.3, hole 1/32 to 1/16 in over the bolt (from memory, confirm)"
ANCHOR_SOURCE = "bit of the anchor's nominal diameter (general guide; the maker's data govern)"
