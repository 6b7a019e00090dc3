"""The floor framing of a survey: direction, size, species and joist centres."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import cast, get_args

from contractor.engine.data.lumber import (
    DRESSED_DEPTH_IN,
    DRESSED_THICKNESS_IN,
    SPECIES,
    dressed_size_in,
    species_named,
)
from contractor.engine.errors import InputError
from contractor.engine.survey import Framing, JoistDirection, JoistKind, Wall
from contractor.engine.survey_field import FOOT, LONGEST_LIST, Field
from contractor.engine.units import TICKS_PER_INCH, format_length, nearest_tick

#: How far from the wall parallel joists are listed: the 8 ft backer and two bays of 24 in.
PARALLEL_REACH = 12 * FOOT


def read_framing(field: Field, wall: Wall) -> Framing:
    """Return the framing; joists that run into the wall need centres inside it.

    Centres of parallel joists are distances from the wall, listed as far as ``PARALLEL_REACH``.
    """
    members = ("joists", "kind", "size", "species", "centers", "thickness", "depth")
    field.check_members(members, ("joists", "kind"))
    direction = cast("JoistDirection", field["joists"].choice(get_args(JoistDirection)))
    kind = cast("JoistKind", field["kind"].choice(get_args(JoistKind)))
    framing = Framing(
        direction=direction,
        kind=kind,
        size=_size(field["size"], kind),
        species=_species(field["species"], kind),
        center_ticks=_centers(field["centers"], direction, wall),
        thickness_ticks=field["thickness"].length_or_unknown(most=FOOT),
        depth_ticks=field["depth"].length_or_unknown(most=3 * FOOT),
    )
    if direction == "parallel" and framing.joist_depth_ticks is None:
        raise field["depth"].refuse(
            "joist_depth_unknown",
            "Joists run along the wall and their depth is unknown, so no beam length follows.",
            "Measure the depth of a joist, or give its size.",
        )
    return framing


def _size(field: Field, kind: JoistKind) -> str | None:
    if field.is_unknown:
        return None
    size = "".join(field.text().lower().replace("×", "x").split())
    if kind != "sawn":
        return field.text()
    if dressed_size_in(size) is None:
        raise field.refuse(
            "unknown_joist_size",
            f"{field.text()!r} is no nominal size of dimension lumber that we know.",
            f"Use {_join(DRESSED_THICKNESS_IN)} by {_join(DRESSED_DEPTH_IN)}, such as 2x10; for "
            "other joists give null here and the measured thickness and depth.",
        )
    return size


def _species(field: Field, kind: JoistKind) -> str | None:
    if field.is_unknown:
        return None
    species = species_named(field.text())
    if species is None and kind == "sawn":
        raise field.refuse(
            "unknown_species",
            f"{field.text()!r} is no species group that we know.",
            f"Use one of {', '.join(SPECIES)}, or null when not known.",
        )
    return None if species is None else species.name


def _join(numbers: Iterable[int]) -> str:
    return ", ".join(str(number) for number in numbers)


def _centers(field: Field, direction: JoistDirection, wall: Wall) -> tuple[int, ...]:
    reach = wall.length_ticks if direction == "perpendicular" else PARALLEL_REACH
    if field.is_unknown:
        centers: list[int] = []
    elif isinstance(field.value, dict):
        centers = _spaced_centers(field, reach)
    else:
        centers = _measured_centers(field, reach)
    if direction == "perpendicular" and not centers:
        raise field.refuse(
            "joists_missing",
            "Joists run into the wall, but none is measured.",
            "Give the centre of the first joist and the spacing, or each centre.",
        )
    return tuple(centers)


def _spaced_centers(field: Field, reach: int) -> list[int]:
    """Return first + n x spacing up to ``reach``; each from the exact value, so errors never add.

    19.2 in is 96/5 in, between two ticks: five bays must still be 96 in.
    """
    field.check_members(("first", "spacing"), ("first", "spacing"))
    first = field["first"].mark(least=0)
    spacing = field["spacing"].mark(least=4 * TICKS_PER_INCH, most=8 * FOOT)
    if nearest_tick(first) > reach:
        raise _outside(field["first"], nearest_tick(first), reach)
    bays = int((Fraction(reach, TICKS_PER_INCH) - first) / spacing)
    if bays >= LONGEST_LIST:
        raise field["spacing"].refuse(
            "list_too_long",
            f"There would be {bays + 1} joists; at most {LONGEST_LIST} are read.",
            "Check the spacing, or survey the wall in parts.",
        )
    return [nearest_tick(first + bay * spacing) for bay in range(bays + 1)]


def _measured_centers(field: Field, reach: int) -> list[int]:
    centers: list[int] = []
    for entry in field.items():
        center = nearest_tick(entry.mark())
        if center > reach:
            raise _outside(entry, center, reach)
        if centers and center <= centers[-1]:
            raise entry.refuse(
                "joists_not_in_order",
                f"This joist ({format_length(center)}) does not lie right of the one before.",
                "List the centres from left to right, each once.",
            )
        centers.append(center)
    return centers


def _outside(field: Field, center: int, reach: int) -> InputError:
    return field.refuse(
        "joist_outside_wall",
        f"The joist at {format_length(center)} lies beyond {format_length(reach)}.",
        "Measure joists from the wall's left corner as seen from inside.",
    )
