"""Why a brace stands where it stands, in the words of somebody on site."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from contractor.engine.layout.answer import Remark
from contractor.engine.layout.candidates import Place
from contractor.engine.layout.solve import Limits
from contractor.engine.survey import Survey
from contractor.engine.units import TICKS_PER_INCH

ON_THE_SPOT_TICKS = TICKS_PER_INCH // 2


def ideal_places(count: int, limits: Limits) -> list[int]:
    """Return even places with the ideal corner distance; one brace stands in the middle."""
    if count == 1:
        return [limits.length // 2]
    span = limits.length - 2 * limits.corner_ideal
    return [limits.corner_ideal + span * index // (count - 1) for index in range(count)]


def reasons(
    place: Place, ideal: int, candidates: Sequence[Place], limits: Limits, survey: Survey
) -> tuple[Remark, ...]:
    """Return what moved the brace off ``ideal``, then what has to give way to it."""
    return (*_why_here(place, ideal, candidates, limits, survey), *_gives_way(place, survey))


def _why_here(
    place: Place, ideal: int, candidates: Sequence[Place], limits: Limits, survey: Survey
) -> list[Remark]:
    off = place.at_ticks - ideal
    if abs(off) <= ON_THE_SPOT_TICKS:
        return [Remark(("Stands at its ideal place.",))]
    side = "right" if off > 0 else "left"
    opening = Remark(("Stands ", abs(off), f" {side} of its ideal place at ", ideal, "."))
    nearer = _nearer(candidates, ideal, abs(off))
    blocks = dict.fromkeys(index for other in nearer for index in other.blockers)
    found = [Remark((f"Keeps clear of {survey.features[index].label}.",)) for index in blocks]
    free = [other for other in nearer if other.is_open]
    costly = [other for other in free if len(other.specials) > len(place.specials)]
    spared = dict.fromkeys(
        label for other in costly for label in other.specials if label not in place.specials
    )
    found += [Remark((f"Spares {label}.",)) for label in spared]
    if len(free) > len(costly):
        found.append(_spacing_remark(place, limits))
    elif not found and place.joist is not None:
        found.append(Remark((f"The side of joist {place.joist} is the nearest bearing.",)))
    elif not found:
        found.append(Remark(("It is the nearest place.",)))
    return [opening, *found]


def _nearer(candidates: Sequence[Place], ideal: int, off: int) -> Sequence[Place]:
    """Return the places less than ``off`` from ``ideal``."""
    first = bisect_right(candidates, ideal - off, key=_position)
    return candidates[first : bisect_left(candidates, ideal + off, key=_position)]


def _position(place: Place) -> int:
    return place.at_ticks


def _spacing_remark(place: Place, limits: Limits) -> Remark:
    spacings = ("Keeps the spacings even and within ", limits.spacing_max)
    if limits.may_start(place.at_ticks) or limits.may_end(place.at_ticks):
        corner = " and the outer brace within "
        return Remark((*spacings, corner, limits.corner_max, " of the corner."))
    return Remark((*spacings, "."))


def _gives_way(place: Place, survey: Survey) -> list[Remark]:
    remarks = []
    for feature in survey.features:
        if feature.label not in place.specials:
            continue
        if feature.kind == "fixture":
            remarks.append(Remark((f"{feature.label} must be moved for it.",)))
        elif feature.is_removable:
            remarks.append(Remark((f"{feature.label} must be taken off the wall for it.",)))
        else:
            layers = f"{place.furring_layers} layer{'s' if place.furring_layers != 1 else ''}"
            remarks.append(Remark((f"Stands on {layers} of furring to clear {feature.label}.",)))
    return remarks
