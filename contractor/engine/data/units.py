"""Units that documents may carry: our spelling, the registry's, other spellings, si display.

A unit text from outside is looked up here and never handed to the unit library.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Dimension = Literal[
    "length",
    "area",
    "section_modulus",
    "moment_of_inertia",
    "force",
    "moment",
    "pressure",
    "fluid_weight",
    "line_load",
    "weight",
    "weight_per_length",
    "density",
    "time",
    "speed",
    "movement_rate",
    "angle",
]


@dataclass(frozen=True)
class Unit:
    dimension: Dimension
    pint: str
    other_spellings: tuple[str, ...] = ()


BASE: dict[str, Unit] = {
    "in": Unit("length", "inch", ('"', "inch", "inches")),
    "ft": Unit("length", "foot", ("'", "foot", "feet")),
    "mi": Unit("length", "mile", ("mile", "miles")),
    "mm": Unit("length", "millimeter"),
    "cm": Unit("length", "centimeter"),
    "m": Unit("length", "meter"),
    "km": Unit("length", "kilometer"),
    "in2": Unit("area", "inch**2", ("sq in", "square inch")),
    "ft2": Unit("area", "foot**2", ("sq ft", "square foot")),
    "mm2": Unit("area", "millimeter**2"),
    "m2": Unit("area", "meter**2"),
    "in3": Unit("section_modulus", "inch**3"),
    "mm3": Unit("section_modulus", "millimeter**3"),
    "cm3": Unit("section_modulus", "centimeter**3"),
    "in4": Unit("moment_of_inertia", "inch**4"),
    "mm4": Unit("moment_of_inertia", "millimeter**4"),
    "cm4": Unit("moment_of_inertia", "centimeter**4"),
    "lbf": Unit("force", "lbf", ("pounds force",)),
    "kip": Unit("force", "kip", ("kips",)),
    "N": Unit("force", "newton"),
    "kN": Unit("force", "kilonewton"),
    "lbf ft": Unit("moment", "lbf*foot", ("ft lbf", "lb ft", "ft lb", "ftlbf")),
    "lbf in": Unit("moment", "lbf*inch", ("in lbf", "lb in", "in lb")),
    "kip ft": Unit("moment", "kip*foot", ("ft kip", "kip feet")),
    "kip in": Unit("moment", "kip*inch", ("in kip",)),
    "N m": Unit("moment", "newton*meter", ("nm",)),
    "kN m": Unit("moment", "kilonewton*meter", ("knm",)),
    "psf": Unit("pressure", "psf", ("lbf/ft2", "lb/ft2")),
    "psi": Unit("pressure", "psi", ("lbf/in2", "lb/in2")),
    "ksi": Unit("pressure", "ksi", ("kip/in2",)),
    "Pa": Unit("pressure", "pascal", ("n/m2",)),
    "kPa": Unit("pressure", "kilopascal", ("kn/m2",)),
    "MPa": Unit("pressure", "megapascal", ("n/mm2",)),
    # A soil's equivalent fluid weight is spoken of in pcf: a weight, not a mass.
    "psf/ft": Unit("fluid_weight", "psf/foot", ("pcf", "lbf/ft3", "lb/ft3")),
    "N/m3": Unit("fluid_weight", "newton/meter**3"),
    "kN/m3": Unit("fluid_weight", "kilonewton/meter**3", ("kpa/m",)),
    "plf": Unit("line_load", "plf", ("lbf/ft",)),
    "klf": Unit("line_load", "klf", ("kip/ft",)),
    "lbf/in": Unit("line_load", "lbf/inch"),
    "N/m": Unit("line_load", "newton/meter"),
    "kN/m": Unit("line_load", "kilonewton/meter"),
    "lb": Unit("weight", "pound", ("lbs", "pound", "pounds")),
    "kg": Unit("weight", "kilogram"),
    "lb/ft": Unit("weight_per_length", "pound/foot"),
    "kg/m": Unit("weight_per_length", "kilogram/meter"),
    "pcf": Unit("density", "pcf", ("lb/ft3",)),
    "kg/m3": Unit("density", "kilogram/meter**3"),
    "min": Unit("time", "minute", ("minute", "minutes")),
    "h": Unit("time", "hour", ("hour", "hours", "hr")),
    "mph": Unit("speed", "mile/hour", ("mi/h",)),
    "km/h": Unit("speed", "kilometer/hour", ("kmh",)),
    "in/yr": Unit("movement_rate", "inch/year", ("in/year", "inches per year")),
    "mm/yr": Unit("movement_rate", "millimeter/year", ("mm/year",)),
    "deg": Unit("angle", "degree", ("°", "degrees")),
}

#: What a reader of si documents sees for each unit.
DISPLAY: dict[str, str] = {name: name for name in BASE} | {
    "in": "mm",
    "ft": "m",
    "mi": "km",
    "in2": "mm2",
    "ft2": "m2",
    "in3": "mm3",
    "in4": "mm4",
    "lbf": "kN",
    "kip": "kN",
    "lbf ft": "N m",
    "lbf in": "N m",
    "kip ft": "kN m",
    "kip in": "kN m",
    "psf": "kPa",
    "psi": "MPa",
    "ksi": "MPa",
    "psf/ft": "kN/m3",
    "plf": "kN/m",
    "klf": "kN/m",
    "lbf/in": "kN/m",
    "lb": "kg",
    "lb/ft": "kg/m",
    "pcf": "kg/m3",
    "mph": "km/h",
    "in/yr": "mm/yr",
}


def _aliases() -> dict[str, dict[str, str]]:
    """Return dimension -> lower-case spelling -> our spelling."""
    table: dict[str, dict[str, str]] = {}
    for name, unit in BASE.items():
        known = table.setdefault(unit.dimension, {})
        for spelling in (name, *unit.other_spellings):
            known[spelling.lower()] = name
    return table


ALIASES: dict[str, dict[str, str]] = _aliases()
