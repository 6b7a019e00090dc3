"""Every possible row of braces on a small wall, tried one by one: the oracle of the solver.

Nothing is shared with the solver: places, limits and objective are written down once more,
straight from the format's text. Time grows with the number of rows; small walls only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from contractor.engine.survey import Survey

#: (braces, specials, largest spacing, squares, positions): smaller is better, in this order.
Rank = tuple[int, int, int, int, tuple[int, ...]]


@dataclass(frozen=True)
class _Wall:
    length: int
    corner: tuple[int, int]
    ideal: int
    spacing: tuple[int, int]
    specials: dict[int, int]  # position -> specials; only the positions that are open


def best_row(survey: Survey, screened_ticks: int | None = None) -> Rank | None:
    """Return the rank of the best row, None when there is none. Raises no errors."""
    rules = survey.rules
    if survey.wall.length_ticks < 2 * rules.corner_min_ticks:
        return (0, 0, 0, 0, ())
    most = rules.spacing_max_bad_ticks if survey.wall.damage == "bad" else rules.spacing_max_ticks
    for screened in (screened_ticks, rules.screened_spacing_max_ticks):
        if screened is not None:
            most = min(most, screened)
    wall = _Wall(
        length=survey.wall.length_ticks,
        corner=(rules.corner_min_ticks, rules.corner_max_ticks),
        ideal=rules.corner_ideal_ticks,
        spacing=(rules.spacing_min_ticks, most),
        specials=_open_positions(survey),
    )
    for count in range(1, wall.length // rules.spacing_min_ticks + 2):
        ranks = [_rank(wall, row) for row in _rows(wall, (), count)]
        if ranks:
            return min(ranks)
    return None


def _open_positions(survey: Survey) -> dict[int, int]:
    rules, length = survey.rules, survey.wall.length_ticks
    if survey.framing.direction == "parallel":
        positions = list(range(0, length + 1, 32))
    else:
        offset = rules.bracket_offset_ticks
        both = [c + way * offset for c in survey.framing.center_ticks for way in (-1, 1)]
        positions = sorted(position for position in both if 0 <= position <= length)
    found: dict[int, int] = {}
    for position in positions:
        stays, specials = False, 0
        for feature in survey.features:
            distance = max(feature.from_ticks - position, position - feature.to_ticks, 0)
            if feature.kind == "line":
                specials += distance == 0
            elif distance <= rules.clearance_ticks:
                stays = stays or feature.kind == "opening" or not feature.is_removable
                specials += 1
        if not stays:
            found[position] = specials
    return found


def _rows(wall: _Wall, row: tuple[int, ...], count: int) -> Iterator[tuple[int, ...]]:
    """Yield every row of ``count`` braces that begins with ``row`` and keeps the limits."""
    if len(row) == count:
        if wall.corner[0] <= wall.length - row[-1] <= wall.corner[1]:
            yield row
        return
    for position in wall.specials:
        if row:
            fits = wall.spacing[0] <= position - row[-1] <= wall.spacing[1]
        else:
            fits = wall.corner[0] <= position <= wall.corner[1]
        if fits:
            yield from _rows(wall, (*row, position), count)


def _rank(wall: _Wall, row: tuple[int, ...]) -> Rank:
    spacings = [row[index] - row[index - 1] for index in range(1, len(row))]
    squares = sum(spacing**2 for spacing in spacings)
    squares += (row[0] - wall.ideal) ** 2 + (wall.length - row[-1] - wall.ideal) ** 2
    specials = sum(wall.specials[position] for position in row)
    return (len(row), specials, max(spacings, default=0), squares, row)
