"""What is on the wall: openings, fixtures and lines, with their extents."""

from __future__ import annotations

from typing import cast, get_args

from contractor.engine.survey import Feature, FeatureKind, Wall
from contractor.engine.survey_field import FOOT, TALLEST_WALL, Field
from contractor.engine.units import format_length


def read_features(field: Field, wall: Wall) -> tuple[Feature, ...]:
    """Return the features in the order given; overlapping openings are refused."""
    features: list[Feature] = []
    for entry in field.items():
        feature = _feature(entry, wall)
        if clash := next((other for other in features if _overlap(feature, other)), None):
            raise entry.refuse(
                "openings_overlap",
                f"The openings {clash.label!r} and {feature.label!r} overlap.",
                "Measure both again, or join them to one opening.",
            )
        features.append(feature)
    return tuple(features)


def _feature(field: Field, wall: Wall) -> Feature:
    members = ("kind", "label", "from", "to", "bottom", "top", "stand_off", "removable")
    field.check_members(members, ("kind", "label", "from", "to"))
    feature = Feature(
        kind=cast("FeatureKind", field["kind"].choice(get_args(FeatureKind))),
        label=field["label"].text(),
        from_ticks=field["from"].length(least=0, most=wall.length_ticks),
        to_ticks=field["to"].length(least=0, most=wall.length_ticks),
        bottom_ticks=field["bottom"].length_or_unknown(least=0, most=TALLEST_WALL),
        top_ticks=field["top"].length_or_unknown(most=TALLEST_WALL),
        stand_off_ticks=field["stand_off"].length_or_unknown(least=0, most=2 * FOOT),
        is_removable=bool(field["removable"].flag()),
    )
    _check_extent(field["to"], feature.from_ticks, feature.to_ticks)
    _check_extent(field["top"], feature.bottom_ticks, feature.top_ticks)
    if feature.kind == "line" and not feature.is_removable and feature.stand_off_ticks is None:
        raise field["stand_off"].refuse(
            "stand_off_missing",
            f"The line {feature.label!r} stays, but how far it stands off the wall is unknown.",
            "Measure from the wall to the line's outer face, for the furring must clear it.",
        )
    return feature


def _check_extent(field: Field, low: int | None, high: int | None) -> None:
    if low is not None and high is not None and high <= low:
        raise field.refuse(
            "extent_reversed",
            f"{format_length(high)} is not beyond {format_length(low)}.",
            "Give the left or lower edge first.",
        )


def _overlap(one: Feature, other: Feature) -> bool:
    """Return whether two openings share a part of the wall (unknown heights: any height)."""
    if one.kind != "opening" or other.kind != "opening":
        return False
    beside = one.to_ticks <= other.from_ticks or other.to_ticks <= one.from_ticks
    return not beside and not _lies_above(one, other) and not _lies_above(other, one)


def _lies_above(one: Feature, other: Feature) -> bool:
    if one.bottom_ticks is None or other.top_ticks is None:
        return False
    return one.bottom_ticks >= other.top_ticks
