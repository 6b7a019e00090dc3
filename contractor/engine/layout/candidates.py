"""Places where a brace may stand: beside joists, or every half inch on parallel framing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from contractor.engine.layout.answer import Side
from contractor.engine.survey import Feature, Survey
from contractor.engine.units import TICKS_PER_INCH

PARALLEL_PITCH_TICKS = TICKS_PER_INCH // 2


@dataclass(frozen=True)
class Place:
    """One place along the wall. ``blocked_by`` names what keeps a brace away, None if nothing.

    ``specials`` are labels: each removable fixture within the clearance (it is moved), and each
    line over whose extent the place lies (furred over when it stays, taken off when removable).
    They are counted for each brace on its own: a cabinet in the way of two braces counts twice.
    """

    at_ticks: int
    joist: int | None
    side: Side | None
    blocked_by: str | None
    specials: tuple[str, ...]
    furring_layers: int


def places(survey: Survey, *, any_place: bool = False) -> list[Place]:
    """Return all places inside the wall by position, the blocked ones too.

    With ``any_place`` the framing counts as parallel: a backer and blocking let a brace stand
    anywhere.
    """
    parallel = any_place or survey.framing.direction == "parallel"
    spots = _every_half_inch(survey) if parallel else _beside_joists(survey)
    return [_place(survey, *spot) for spot in spots]


def _every_half_inch(survey: Survey) -> Iterator[tuple[int, None, None]]:
    for at in range(0, survey.wall.length_ticks + 1, PARALLEL_PITCH_TICKS):
        yield at, None, None


def _beside_joists(survey: Survey) -> list[tuple[int, int, Side]]:
    offset = survey.rules.bracket_offset_ticks
    spots: list[tuple[int, int, Side]] = []
    for joist, center in enumerate(survey.framing.center_ticks, start=1):
        spots.append((center - offset, joist, "left"))
        spots.append((center + offset, joist, "right"))
    return sorted(spot for spot in spots if 0 <= spot[0] <= survey.wall.length_ticks)


def _place(survey: Survey, at: int, joist: int | None, side: Side | None) -> Place:
    """Return the place with what the features on the wall mean for it."""
    blocked_by: str | None = None
    specials: list[str] = []
    layers = 0
    for feature in survey.features:
        if not _touches(feature, at, survey.rules.clearance_ticks):
            continue
        if feature.kind == "line":
            specials.append(feature.label)
            if not feature.is_removable:
                layers = max(layers, furring_layers(feature, survey.rules.furring_layer_ticks))
        elif feature.kind == "fixture" and feature.is_removable:
            specials.append(feature.label)
        else:
            blocked_by = blocked_by or feature.label
    return Place(at, joist, side, blocked_by, tuple(specials), layers)


def _touches(feature: Feature, at: int, clearance: int) -> bool:
    """Return whether a brace at ``at`` meets the feature; at exactly the clearance it does."""
    reach = 0 if feature.kind == "line" else clearance
    return feature.from_ticks - reach <= at <= feature.to_ticks + reach


def furring_layers(line: Feature, layer_ticks: int) -> int:
    """Return how many layers of furring clear a line that stays."""
    return -(-(line.stand_off_ticks or 0) // layer_ticks)
