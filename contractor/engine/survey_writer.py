"""A :class:`Survey` written back as a ``wall-survey/1`` document, in either unit system."""

from __future__ import annotations

from typing import Any

from contractor.engine.survey import Crack, Distress, Feature, Framing, Soil, Survey, Wall
from contractor.engine.survey_reader import SCHEMA
from contractor.engine.survey_rules import RULE_NAMES
from contractor.engine.units import System, write_length, write_quantity

Document = dict[str, Any]


def write_survey(survey: Survey, system: System = "us") -> Document:
    """Return a document that reads back to the same survey.

    Joists come as their centres, each kept to a tick, whether or not a spacing was given.
    """
    surcharge = survey.surcharge_psf
    return {
        "schema": SCHEMA,
        "name": survey.name or None,
        "wall": _wall(survey.wall, system),
        "soil": _soil(survey.soil, system),
        "water_depth": _length(survey.water_depth_ticks, system),
        "surcharge": None if surcharge is None else write_quantity(surcharge, "psf", system),
        "drained": survey.is_drained,
        "slab": {
            "thickness": _length(survey.slab.thickness_ticks, system),
            "edge_gap": _length(survey.slab.edge_gap_ticks, system),
        },
        "framing": _framing(survey.framing, system),
        "heights": [
            {
                "at": write_length(station.at_ticks, system),
                "slab_to_subfloor": write_length(station.height_ticks, system),
            }
            for station in survey.stations
        ],
        "features": [_feature(feature, system) for feature in survey.features],
        "distress": _distress(survey.distress, system),
        "rules": {
            name: _length(getattr(survey.rules, f"{name}_ticks"), system) for name in RULE_NAMES
        },
    }


def _length(ticks: int | None, system: System) -> Document | None:
    return None if ticks is None else write_length(ticks, system)


def _wall(wall: Wall, system: System) -> Document:
    return {
        "length": write_length(wall.length_ticks, system),
        "kind": wall.kind,
        "thickness": _length(wall.thickness_ticks, system),
        "fill_height": _length(wall.fill_height_ticks, system),
        "damage": wall.damage,
    }


def _soil(soil: Soil, system: System) -> Document | None:
    if soil.equivalent_fluid_psf_per_ft is not None:
        weight = write_quantity(soil.equivalent_fluid_psf_per_ft, "psf/ft", system)
        return {"equivalent_fluid_weight": weight}
    return None if soil.uscs is None else {"class": soil.uscs}


def _framing(framing: Framing, system: System) -> Document:
    return {
        "joists": framing.direction,
        "kind": framing.kind,
        "size": framing.size,
        "species": framing.species,
        "centers": [write_length(center, system) for center in framing.center_ticks],
        "thickness": _length(framing.thickness_ticks, system),
        "depth": _length(framing.depth_ticks, system),
    }


def _feature(feature: Feature, system: System) -> Document:
    return {
        "kind": feature.kind,
        "label": feature.label,
        "from": write_length(feature.from_ticks, system),
        "to": write_length(feature.to_ticks, system),
        "bottom": _length(feature.bottom_ticks, system),
        "top": _length(feature.top_ticks, system),
        "stand_off": _length(feature.stand_off_ticks, system),
        "removable": feature.is_removable,
    }


def _distress(distress: Distress, system: System) -> Document:
    return {
        "readings": [
            {
                "at": write_length(reading.at_ticks, system),
                "height": write_length(reading.height_ticks, system),
                "inward": write_length(reading.inward_ticks, system),
            }
            for reading in distress.readings
        ],
        "cracks": [_crack(crack, system) for crack in distress.cracks],
        "base_slide": _length(distress.base_slide_ticks, system),
        "settling": distress.is_settling,
    }


def _crack(crack: Crack, system: System) -> Document:
    return {
        "kind": crack.kind,
        "at": _length(crack.at_ticks, system),
        "height": _length(crack.height_ticks, system),
        "width": _length(crack.width_ticks, system),
    }
