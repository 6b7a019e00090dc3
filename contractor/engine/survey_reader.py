"""``wall-survey/1`` documents read into a :class:`Survey`, or refused with a pointer.

Unknown members are refused. ``null`` means unknown and stays None; nothing is guessed. A wall of
stone, an i-joist or missing soil is not an input error: the screening's stop list speaks of it.
"""

from __future__ import annotations

from typing import cast, get_args

from contractor.engine.survey import (
    BowReading,
    Crack,
    CrackKind,
    Damage,
    Distress,
    Rules,
    Slab,
    Soil,
    Station,
    Survey,
    Wall,
    WallKind,
)
from contractor.engine.survey_features import read_features
from contractor.engine.survey_field import FOOT, LONGEST_WALL, TALLEST_WALL, Field
from contractor.engine.survey_framing import read_framing
from contractor.engine.survey_rules import read_rules
from contractor.engine.units import format_length

SCHEMA = "wall-survey/1"
#: Unified soil classes (ASTM D2487 group symbols) in the spelling of IBC table 1610.1.
SOIL_CLASSES = (
    *("GW", "GP", "GM", "GC", "SW", "SP", "SM", "SM-SC", "SC"),
    *("ML", "ML-CL", "CL", "OL", "MH", "CH", "OH"),
)
_SOIL_OTHER_SPELLINGS = {"SC-SM": "SM-SC", "CL-ML": "ML-CL"}
LARGEST_EFP_PSF_PER_FT = 250.0
LARGEST_SURCHARGE_PSF = 5000.0
_MEMBERS = (
    *("schema", "name", "wall", "soil", "water_depth", "surcharge", "drained", "slab"),
    *("framing", "heights", "features", "distress", "rules"),
)


def read_survey(document: object) -> Survey:
    """Return the survey in ``document`` (decoded JSON).

    Beyond the format, optional: ``drained`` (true, false, null), ``framing.thickness`` and
    ``framing.depth`` (joists as measured). Raises InputError.
    """
    root = Field(document, "", [])
    root.check_members(_MEMBERS, ("wall", "framing", "heights"))
    root["schema"].choice((SCHEMA,), code="wrong_schema")
    wall = _wall(root["wall"])
    rules = read_rules(root["rules"])
    stations = _stations(root["heights"], wall, rules)
    tallest = max(station.height_ticks for station in stations)
    _check_fill(root["wall"]["fill_height"], wall, tallest)
    return Survey(
        name=root["name"].text(default=""),
        wall=wall,
        soil=_soil(root["soil"]),
        slab=_slab(root["slab"]),
        framing=read_framing(root["framing"], wall),
        stations=stations,
        features=read_features(root["features"], wall),
        distress=_distress(root["distress"], wall, tallest),
        rules=rules,
        water_depth_ticks=root["water_depth"].length_or_unknown(least=0, most=TALLEST_WALL),
        surcharge_psf=_surcharge(root["surcharge"]),
        is_drained=root["drained"].flag(),
        rounded=tuple(root.rounded),
    )


def _wall(field: Field) -> Wall:
    field.check_members(("length", "kind", "thickness", "fill_height", "damage"), ("length",))
    kinds, damages = get_args(WallKind), get_args(Damage)
    damage = "normal" if "damage" not in field.value else field["damage"].choice(damages)
    return Wall(
        length_ticks=field["length"].length(most=LONGEST_WALL),
        kind=cast(
            "WallKind | None", field["kind"].choice_or_unknown(kinds, code="unknown_wall_kind")
        ),
        thickness_ticks=field["thickness"].length_or_unknown(most=4 * FOOT),
        fill_height_ticks=field["fill_height"].length_or_unknown(least=0, most=TALLEST_WALL),
        damage=cast("Damage", damage),
    )


def _check_fill(field: Field, wall: Wall, tallest: int) -> None:
    if wall.fill_height_ticks is not None and wall.fill_height_ticks > tallest:
        raise field.refuse(
            "fill_above_wall",
            f"The fill ({format_length(wall.fill_height_ticks)}) is higher than the wall: the "
            f"greatest height to the subfloor is {format_length(tallest)}.",
            "Measure the fill from the slab up to the ground outside.",
        )


def _soil(field: Field) -> Soil:
    if field.is_unknown:
        return Soil()
    field.check_members(("class", "equivalent_fluid_weight"))
    group, weight = field["class"], field["equivalent_fluid_weight"]
    if not group.is_unknown and not weight.is_unknown:
        raise field.refuse(
            "soil_given_twice",
            "Both a class and an equivalent fluid weight are given.",
            "Keep the one that is known better.",
        )
    if not weight.is_unknown:
        psf_per_ft = weight.quantity("psf/ft", least=1.0, most=LARGEST_EFP_PSF_PER_FT)
        return Soil(equivalent_fluid_psf_per_ft=psf_per_ft)
    return Soil(uscs=_soil_class(group))


def _soil_class(field: Field) -> str | None:
    if field.is_unknown:
        return None
    symbol = field.text().upper()
    symbol = _SOIL_OTHER_SPELLINGS.get(symbol, symbol)
    if symbol not in SOIL_CLASSES:
        raise field.refuse(
            "unknown_soil_class",
            f"{field.text()!r} is no soil class of the unified system.",
            f"Use one of {', '.join(SOIL_CLASSES)}, or null when the soil is not known.",
        )
    return symbol


def _surcharge(field: Field) -> float | None:
    if field.is_unknown:
        return None
    return field.quantity("psf", least=0.0, most=LARGEST_SURCHARGE_PSF)


def _slab(field: Field) -> Slab:
    if field.is_unknown:
        return Slab(None, None)
    field.check_members(("thickness", "edge_gap"))
    return Slab(
        thickness_ticks=field["thickness"].length_or_unknown(most=3 * FOOT),
        edge_gap_ticks=field["edge_gap"].length_or_unknown(least=0, most=3 * FOOT),
    )


def _stations(field: Field, wall: Wall, rules: Rules) -> tuple[Station, ...]:
    stations: list[Station] = []
    for entry in field.items():
        entry.check_members(("at", "slab_to_subfloor"), ("at", "slab_to_subfloor"))
        at = entry["at"].length(least=0, most=wall.length_ticks)
        if any(station.at_ticks == at for station in stations):
            raise entry["at"].refuse(
                "duplicate_station",
                f"There are two heights at {format_length(at)}.",
                "Keep the right one.",
            )
        height = entry["slab_to_subfloor"].length(least=FOOT, most=TALLEST_WALL)
        stations.append(Station(at, height))
    if len(stations) < 2:
        raise field.refuse(
            "too_few_heights",
            "The height from slab to subfloor is needed at two or more places.",
            "Measure it at both corners at least.",
        )
    stations.sort(key=lambda station: station.at_ticks)
    _check_height_gap(field, stations, wall, rules)
    return tuple(stations)


def _check_height_gap(field: Field, stations: list[Station], wall: Wall, rules: Rules) -> None:
    """Refuse stations that leave out a stretch where a brace must stand, whatever the layout."""
    if wall.length_ticks < 2 * rules.corner_min_ticks:
        return
    first, last = stations[0].at_ticks, stations[-1].at_ticks
    right_brace_from = wall.length_ticks - rules.corner_max_ticks
    if first > rules.corner_max_ticks:
        gap = (0, first)
    elif last < right_brace_from:
        gap = (last, wall.length_ticks)
    else:
        return
    raise field.refuse(
        "height_gap",
        f"No height was measured from {format_length(gap[0])} to {format_length(gap[1])}, "
        "where a brace must stand.",
        "Measure the height from slab to subfloor near both corners.",
    )


def _distress(field: Field, wall: Wall, tallest: int) -> Distress:
    if field.is_unknown:
        return Distress()
    field.check_members(("readings", "cracks", "base_slide", "settling"))
    return Distress(
        readings=tuple(_reading(entry, wall, tallest) for entry in field["readings"].items()),
        cracks=tuple(_crack(entry, wall, tallest) for entry in field["cracks"].items()),
        base_slide_ticks=field["base_slide"].length_or_unknown(least=0, most=2 * FOOT),
        is_settling=field["settling"].flag(),
    )


def _reading(field: Field, wall: Wall, tallest: int) -> BowReading:
    members = ("at", "height", "inward")
    field.check_members(members, members)
    return BowReading(
        at_ticks=field["at"].length(least=0, most=wall.length_ticks),
        height_ticks=field["height"].length(least=0, most=tallest),
        inward_ticks=field["inward"].length(least=-2 * FOOT, most=2 * FOOT),
    )


def _crack(field: Field, wall: Wall, tallest: int) -> Crack:
    field.check_members(("kind", "at", "height", "width"), ("kind",))
    return Crack(
        kind=cast("CrackKind", field["kind"].choice(get_args(CrackKind))),
        at_ticks=field["at"].length_or_unknown(least=0, most=wall.length_ticks),
        height_ticks=field["height"].length_or_unknown(least=0, most=tallest),
        width_ticks=field["width"].length_or_unknown(least=0, most=FOOT),
    )
