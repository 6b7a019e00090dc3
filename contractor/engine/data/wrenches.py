"""Nut heights, hole sizes in wood and masonry bits; widths across flats are in ``fasteners``."""

from __future__ import annotations

from fractions import Fraction

#: Height of a hex nut (ASME B18.2.2; from memory, confirm): only used to choose bolt lengths.
NUT_HEIGHTS_IN: dict[Fraction, Fraction] = {
    Fraction(1, 2): Fraction(7, 16),
    Fraction(5, 8): Fraction(35, 64),
    Fraction(3, 4): Fraction(41, 64),
    Fraction(7, 8): Fraction(3, 4),
    Fraction(1): Fraction(55, 64),
}
#: Hole for a bolt in wood: 1/32 to 1/16 in over the bolt (NDS 12.1.3; from memory, confirm).
WOOD_HOLE_OVERSIZE_IN = Fraction(1, 16)
#: Depth of an anchor hole beyond the embedment (read, general guide for wedge anchors).
ANCHOR_HOLE_EXTRA_IN = Fraction(1, 2)
WRENCH_SOURCE = "ASME B18.2.1 (bolt heads; from memory, confirm), ASME B18.2.2 (nuts)"
HOLE_SOURCE = "AISC 360 Table J3.3, standard holes"
WOOD_HOLE_SOURCE = "NDS 12.1.3, hole 1/32 to 1/16 in over the bolt (from memory, confirm)"
ANCHOR_SOURCE = "bit of the anchor's nominal diameter (general guide; the maker's data govern)"
