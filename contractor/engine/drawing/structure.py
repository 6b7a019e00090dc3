"""The wall itself on an elevation: floor, joists, wall, slab, ground, features, distress."""

from __future__ import annotations

from itertools import pairwise

from contractor.engine.drawing.lettering import Box, spots_around, text_box, text_width
from contractor.engine.drawing.panel import Panel, height_near
from contractor.engine.drawing.svg import Svg
from contractor.engine.layout.answer import show_length
from contractor.engine.survey import Crack, Feature, Survey
from contractor.engine.units import System

_SUBFLOOR_TICKS = 48
_UNKNOWN_SLAB_TICKS = 4 * 64
CRACK_HALF_TICKS = 18 * 64


def draw_wall(svg: Svg, panel: Panel) -> None:
    """Draw floor, framing, wall and slab, from the top down."""
    floor = panel.floor_points()
    _draw_framing(svg, panel, floor)
    top = [(panel.x(at), panel.y(panel.wall_top(h))) for at, h in floor]
    base = [(panel.x(panel.end), panel.y(0)), (panel.x(panel.start), panel.y(0))]
    svg.path([*top, *base], "wall", is_closed=True, part="wall")
    upper = [(panel.x(at), panel.y(h + _SUBFLOOR_TICKS)) for at, h in reversed(floor)]
    svg.path(
        [*((panel.x(at), panel.y(h)) for at, h in floor), *upper],
        "wood",
        is_closed=True,
        part="subfloor",
    )
    thickness = panel.survey.slab.thickness_ticks
    deep = panel.size(thickness or _UNKNOWN_SLAB_TICKS)
    css = "slab" if thickness else "slab dash"
    svg.rect(panel.x(panel.start), panel.slab_y, panel.size(panel.end - panel.start), deep, css)
    for at, is_end in ((panel.start, panel.stretch.is_first), (panel.end, panel.stretch.is_last)):
        if not is_end:
            _draw_break(svg, panel, at)


def _draw_framing(svg: Svg, panel: Panel, floor: list[tuple[int, float]]) -> None:
    framing = panel.survey.framing
    depth = framing.joist_depth_ticks or 0
    if framing.direction == "parallel":
        points = [(panel.x(at), panel.y(h)) for at, h in floor]
        lower = [(panel.x(at), panel.y(h - depth)) for at, h in reversed(floor)]
        svg.path([*points, *lower], "wood", is_closed=True, part="joist-along")
        return
    thickness = framing.joist_thickness_ticks or 96
    for joist, center in enumerate(framing.center_ticks, start=1):
        if panel.holds(center):
            height = height_near(panel.survey.stations, center)
            x, y = panel.x(center - thickness / 2), panel.y(height)
            wide, deep = panel.size(thickness), panel.size(depth)
            svg.rect(x, y, wide, deep, "wood", joist=joist, at=center)


def _draw_break(svg: Svg, panel: Panel, at: int) -> None:
    """Draw the wavy line that says the wall goes on."""
    x, top = panel.x(at), panel.y(height_near(panel.survey.stations, at)) - 6
    steps = 12
    points = [
        (x + (2.5 if i % 2 else -2.5), top + (panel.slab_y + 8 - top) * i / steps)
        for i in range(steps + 1)
    ]
    svg.path(points, "line")


def draw_ground(svg: Svg, panel: Panel, system: System) -> None:
    """Draw the ground outside as a dashed line with its height."""
    fill = panel.survey.wall.fill_height_ticks
    if fill is None:
        return
    y = panel.y(fill)
    svg.line(panel.x(panel.start), y, panel.x(panel.end), y, "line dash", fill=fill)
    length = show_length(fill, system)
    for words in (f"ground outside {length}", f"ground {length}", length):
        spot = (panel.x((panel.start * 5 + panel.end) / 6), y - 4)
        if label(svg, panel, words, *spot, "soft"):
            return


def label(svg: Svg, panel: Panel, words: str, x: float, y: float, css: str = "") -> bool:
    """Write ``words`` near (x, y) where the wall is free; say whether there was room."""
    size = panel.canvas.small
    highest = min(panel.y(panel.wall_top(height)) for _, height in panel.floor_points())
    frame = Box(panel.x(panel.start) + 1, highest, panel.x(panel.end) - 1, panel.slab_y)
    spot = panel.places.find(words, size, spots_around(x, y, size * 0.9), frame)
    if spot is None:
        return False
    box = text_box(*spot, words, size, "middle")
    svg.rect(box.left - 1, box.top, box.right - box.left + 2, box.bottom - box.top, "halo")
    svg.text(*spot, words, size, css, anchor="middle", label=words)
    return True


# ---------------------------------------------------------------- features


def draw_features(svg: Svg, panel: Panel) -> None:
    for feature in panel.survey.features:
        if (cut := panel.clipped(feature.from_ticks, feature.to_ticks)) is not None:
            _draw_feature(svg, panel, feature, cut)


def feature_heights(panel: Panel, feature: Feature) -> tuple[float, float]:
    """Return bottom and top of a feature, the whole wall where they are not known."""
    middle = (feature.from_ticks + feature.to_ticks) // 2
    top = panel.wall_top(height_near(panel.survey.stations, middle))
    low = feature.bottom_ticks if feature.bottom_ticks is not None else 0
    return low, min(feature.top_ticks, top) if feature.top_ticks is not None else top


def _draw_feature(svg: Svg, panel: Panel, feature: Feature, cut: tuple[int, int]) -> None:
    low, high = feature_heights(panel, feature)
    x, y = panel.x(cut[0]), panel.y(high)
    width, height = panel.size(cut[1] - cut[0]), max(panel.size(high - low), 1.5)
    css = "void" if feature.kind == "opening" else "thing"
    if feature.bottom_ticks is None or feature.top_ticks is None:
        css += " dash"
    svg.rect(x, y, width, height, css, feature=feature.label, at=cut[0], to=cut[1])
    if feature.kind == "opening":
        svg.line(x, y, x + width, y + height, "hair")
        svg.line(x, y + height, x + width, y, "hair")


def label_features(svg: Svg, panel: Panel, keys: dict[str, str]) -> None:
    """Write the names of the features, or a key letter where a name has no room.

    ``keys`` collects name -> letter for the list under the drawing.
    """
    for feature in panel.survey.features:
        if (cut := panel.clipped(feature.from_ticks, feature.to_ticks)) is None:
            continue
        words = feature.label + (" (comes down)" if feature.is_removable else "")
        spot = _label_spot(panel, feature, cut, words)
        if words not in keys and label(svg, panel, words, *spot):
            continue
        key = keys.setdefault(words, chr(ord("a") + len(keys) % 26))
        label(svg, panel, key, *_label_spot(panel, feature, cut, key), "bold")


def _label_spot(
    panel: Panel, feature: Feature, cut: tuple[int, int], words: str
) -> tuple[float, float]:
    """Return where a name is wished for: inside what is large enough, else right above it."""
    low, high = feature_heights(panel, feature)
    size = panel.canvas.small
    is_inside = (
        panel.size(cut[1] - cut[0]) > text_width(words, size) + 4
        and panel.size(high - low) > size + 4
    )
    y = panel.y((low + high) / 2) + size * 0.35 if is_inside else panel.y(high) - 4
    return panel.x(sum(cut) / 2), y


# ---------------------------------------------------------------- distress


def draw_distress(svg: Svg, panel: Panel, system: System) -> None:
    for crack in panel.survey.distress.cracks:
        _draw_crack(svg, panel, crack)
    for reading in panel.survey.distress.readings:
        if panel.holds(reading.at_ticks):
            x, y = panel.x(reading.at_ticks), panel.y(reading.height_ticks)
            svg.circle(x, y, 2.2, "dot", inward=reading.inward_ticks, at=reading.at_ticks)
            panel.places.take(Box(x - 3, y - 3, x + 3, y + 3))


def label_readings(svg: Svg, panel: Panel, system: System, left_over: list[str]) -> None:
    """Write the largest inward reading of each station beside its dot.

    ``left_over`` collects those for which the wall has no room.
    """
    largest: dict[int, tuple[int, int]] = {}
    for reading in panel.survey.distress.readings:
        found = (reading.inward_ticks, reading.height_ticks)
        largest[reading.at_ticks] = max(largest.get(reading.at_ticks, found), found)
    for at, (inward, height) in sorted(largest.items()):
        if panel.holds(at):
            words = show_length(inward, system)
            if not label(svg, panel, words, panel.x(at), panel.y(height) - 6, "accent"):
                left_over.append(f"{words} inward at {show_length(at, system)} from the left")


def unplaced_cracks(survey: Survey) -> list[str]:
    """Return the cracks that cannot be drawn, for their place was not measured."""
    return [
        f"{crack.kind.replace('_', '-')} crack, place not measured"
        for crack in survey.distress.cracks
        if (crack.height_ticks if crack.kind == "horizontal" else crack.at_ticks) is None
    ]


def _draw_crack(svg: Svg, panel: Panel, crack: Crack) -> None:
    """Draw a crack as a mark; the survey holds its place, not its course."""
    if crack.height_ticks is None and crack.kind == "horizontal":
        return
    if crack.at_ticks is None and crack.kind != "horizontal":
        return
    at = crack.at_ticks if crack.at_ticks is not None else (panel.start + panel.end) // 2
    half = CRACK_HALF_TICKS if crack.at_ticks is not None else (panel.end - panel.start) // 2
    if not panel.holds(at):
        return
    height = crack.height_ticks
    if height is None:
        height = int(panel.wall_top(height_near(panel.survey.stations, at)) / 2)
    course = _course(panel, crack.kind, at, height, half)
    svg.path(course, "accent-line", crack=crack.kind, at=at)
    for (x1, y1), (x2, y2) in pairwise(course):
        panel.places.take(Box(min(x1, x2) - 2, min(y1, y2) - 2, max(x1, x2) + 2, max(y1, y2) + 2))


def _course(panel: Panel, kind: str, at: int, height: int, half: int) -> list[tuple[float, float]]:
    cut = panel.clipped(at - half, at + half) or (at, at)
    steps = max(6, int(panel.size(cut[1] - cut[0]) / 7))
    if kind == "horizontal":
        span = cut[1] - cut[0]
        return [
            (panel.x(cut[0] + span * i / steps), panel.y(height) + (1.6 if i % 2 else -1.6))
            for i in range(steps + 1)
        ]
    slope = {"vertical": 0.0, "diagonal": 1.0, "stair_step": 0.5}[kind]
    points: list[tuple[float, float]] = []
    for i in range(-3, 4):
        x, y = panel.x(at + slope * i * 8 * 64), panel.y(height + i * 8 * 64)
        if kind == "stair_step" and points:
            points.append((x, points[-1][1]))
        points.append((x + (1.5 if i % 2 and kind == "vertical" else 0), y))
    return points
