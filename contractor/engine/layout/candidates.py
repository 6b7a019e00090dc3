"""Places where a brace may stand: beside joists, or every half inch on parallel framing."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

from contractor.engine.layout.answer import Side
from contractor.engine.survey import Feature, Survey
from contractor.engine.units import TICKS_PER_INCH

PARALLEL_PITCH_TICKS = TICKS_PER_INCH // 2
Spot = tuple[int, int | None, Side | None]


@dataclass(frozen=True)
class Place:
    """One place along the wall. ``blockers`` are indices of features that keep a brace away.

    ``specials`` are labels: each removable fixture within the clearance (it is moved), and each
    line over whose extent the place lies (furred over when it stays, taken off when removable).
    They are counted for each brace on its own: a cabinet in the way of two braces counts twice.
    """

    at_ticks: int
    joist: int | None
    side: Side | None
    blockers: tuple[int, ...]
    specials: tuple[str, ...]
    furring_layers: int

    @property
    def is_open(self) -> bool:
        return not self.blockers


def places(survey: Survey, *, any_place: bool = False) -> list[Place]:
    """Return all places inside the wall by position, the blocked ones too.

    With ``any_place`` the framing counts as parallel: a backer and blocking let a brace stand
    anywhere.
    """
    parallel = any_place or survey.framing.direction == "parallel"
    spots = _every_half_inch(survey) if parallel else _beside_joists(survey)
    met = _features_met(survey, [at for at, _, _ in spots])
    return [_place(survey, spot, features) for spot, features in zip(spots, met, strict=True)]


def _every_half_inch(survey: Survey) -> list[Spot]:
    return [(at, None, None) for at in range(0, survey.wall.length_ticks + 1, PARALLEL_PITCH_TICKS)]


def _beside_joists(survey: Survey) -> list[Spot]:
    offset = survey.rules.bracket_offset_ticks
    spots: list[Spot] = []
    for joist, center in enumerate(survey.framing.center_ticks, start=1):
        spots.append((center - offset, joist, "left"))
        spots.append((center + offset, joist, "right"))
    inside = [spot for spot in spots if 0 <= spot[0] <= survey.wall.length_ticks]
    return sorted(inside, key=lambda spot: (spot[0], spot[1] or 0))


def _features_met(survey: Survey, at: list[int]) -> list[list[int]]:
    """Return for each position the indices of the features that a brace there meets.

    A brace at exactly the clearance counts as within it.
    """
    met: list[list[int]] = [[] for _ in at]
    for index, feature in enumerate(survey.features):
        reach = 0 if feature.kind == "line" else survey.rules.clearance_ticks
        first = bisect_left(at, feature.from_ticks - reach)
        for spot in range(first, bisect_right(at, feature.to_ticks + reach)):
            met[spot].append(index)
    return met


def _place(survey: Survey, spot: Spot, met: list[int]) -> Place:
    """Return the place with what the features that it meets mean for it."""
    blockers: list[int] = []
    specials: list[str] = []
    layers = 0
    for index in met:
        feature = survey.features[index]
        if feature.kind == "opening" or (feature.kind == "fixture" and not feature.is_removable):
            blockers.append(index)
            continue
        specials.append(feature.label)
        if not feature.is_removable:
            layers = max(layers, furring_layers(feature, survey.rules.furring_layer_ticks))
    return Place(*spot, tuple(blockers), tuple(specials), layers)


def furring_layers(line: Feature, layer_ticks: int) -> int:
    """Return how many layers of furring clear a line that stays."""
    return -(-(line.stand_off_ticks or 0) // layer_ticks)
