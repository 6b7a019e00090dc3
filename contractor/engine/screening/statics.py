"""A simply supported brace under any piecewise-linear load, in closed form.

x runs up from the bottom support, loads push the brace into the room (positive). Loads in
lbf/in, lengths in inches, forces in lbf, moments in lbf in; deflections come multiplied by EI
(lbf in3). Maxima are exact: they are the roots of the next derivative (AISC Manual Table 3-23
case 2 is the special case of a triangle over the whole span).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from contractor.engine.screening import polynomials
from contractor.engine.screening.polynomials import Polynomial


@dataclass(frozen=True)
class Segment:
    """A straight piece of load from ``start_in`` up to ``end_in``."""

    start_in: float
    end_in: float
    start_lbf_per_in: float
    end_lbf_per_in: float


@dataclass(frozen=True)
class Peak:
    value: float
    at_in: float


@dataclass(frozen=True)
class Piece:
    """Polynomials in the distance from ``start_in``: load to EI times deflection."""

    start_in: float
    end_in: float
    load: Polynomial
    shear: Polynomial
    moment: Polynomial
    slope: Polynomial
    deflection: Polynomial


@dataclass(frozen=True)
class Statics:
    span_in: float
    total_lbf: float
    bottom_lbf: float
    top_lbf: float
    shear: Peak
    moment: Peak
    ei_deflection: Peak
    pieces: tuple[Piece, ...]

    def at(self, quantity: str, x_in: float) -> float:
        """Return load, shear, moment, slope or deflection (the last two times EI) at a height."""
        for piece in self.pieces:
            if x_in <= piece.end_in:
                part: Polynomial = getattr(piece, quantity)
                return polynomials.value(part, x_in - piece.start_in)
        return 0.0


@lru_cache(maxsize=1024)
def simply_supported(segments: tuple[Segment, ...], span_in: float) -> Statics:
    """Return reactions and peaks; segments may overlap, touch or leave gaps within the span."""
    loads = _load_pieces(segments, span_in)
    total, first_moment = _resultant(loads)
    top = first_moment / span_in
    bottom = total - top
    trial = _integrate(loads, bottom, 0.0)
    end = trial[-1]
    drift = polynomials.value(end.deflection, end.end_in - end.start_in)
    pieces = _integrate(loads, bottom, -drift / span_in)
    return Statics(
        span_in,
        total,
        bottom,
        top,
        _peak(pieces, "shear", "load"),
        _peak(pieces, "moment", "shear"),
        _peak(pieces, "deflection", "slope"),
        pieces,
    )


def _load_pieces(
    segments: Sequence[Segment], span_in: float
) -> list[tuple[float, float, Polynomial]]:
    """Return (start, end, linear load) over the whole span, overlaps summed."""
    marks = {0.0, span_in}
    for segment in segments:
        if not 0 <= segment.start_in <= segment.end_in <= span_in:
            raise ValueError("a load segment lies outside the span")
        marks |= {segment.start_in, segment.end_in}
    edges = sorted(marks)
    pieces: list[tuple[float, float, Polynomial]] = []
    for start, end in itertools.pairwise(edges):
        left = right = 0.0
        for segment in segments:
            if segment.start_in <= start and end <= segment.end_in:
                rise = _slope(segment)
                left += segment.start_lbf_per_in + rise * (start - segment.start_in)
                right += segment.start_lbf_per_in + rise * (end - segment.start_in)
        pieces.append((start, end, (left, (right - left) / (end - start))))
    return pieces


def _slope(segment: Segment) -> float:
    return (segment.end_lbf_per_in - segment.start_lbf_per_in) / (segment.end_in - segment.start_in)


def _resultant(loads: Sequence[tuple[float, float, Polynomial]]) -> tuple[float, float]:
    """Return the total load and its moment about the bottom support."""
    total = moment = 0.0
    for start, end, (first, rise) in loads:
        length = end - start
        force = first * length + rise * length**2 / 2
        total += force
        moment += force * start + first * length**2 / 2 + rise * length**3 / 3
    return total, moment


def _integrate(
    loads: Sequence[tuple[float, float, Polynomial]], shear: float, slope: float
) -> tuple[Piece, ...]:
    """Return the pieces, starting from shear and slope at the bottom support."""
    moment = deflection = 0.0
    pieces = []
    for start, end, load in loads:
        shears = polynomials.integral(tuple(-part for part in load), shear)
        moments = polynomials.integral(shears, moment)
        slopes = polynomials.integral(tuple(-part for part in moments), slope)
        deflections = polynomials.integral(slopes, deflection)
        pieces.append(Piece(start, end, load, shears, moments, slopes, deflections))
        length = end - start
        shear = polynomials.value(shears, length)
        moment = polynomials.value(moments, length)
        slope = polynomials.value(slopes, length)
        deflection = polynomials.value(deflections, length)
    return tuple(pieces)


def _peak(pieces: Sequence[Piece], quantity: str, rate: str) -> Peak:
    """Return the value of largest size and where; it is at an end or where the rate is zero."""
    best = Peak(0.0, 0.0)
    for piece in pieces:
        length = piece.end_in - piece.start_in
        turning = polynomials.roots(getattr(piece, rate), 0.0, length)
        for x in (0.0, *turning, length):
            found = polynomials.value(getattr(piece, quantity), x)
            if abs(found) > abs(best.value):
                best = Peak(found, piece.start_in + x)
    return best
