"""Lumber: dressed sizes, and design values of the species groups that floors are framed with.

Sizes: PS 20 table, dry (read). Specific gravity and compression perpendicular to grain: NDS 2018
Table 12.3.3A and Supplement Table 4A/4B (from memory, confirm); moduli are for No. 2.
"""

from __future__ import annotations

from dataclasses import dataclass

from contractor.engine.data.basis import MEMORY, Basis

DRESSED_THICKNESS_IN: dict[int, float] = {2: 1.5, 3: 2.5, 4: 3.5}
DRESSED_DEPTH_IN: dict[int, float] = {4: 3.5, 6: 5.5, 8: 7.25, 10: 9.25, 12: 11.25, 14: 13.25}


@dataclass(frozen=True)
class Species:
    """``gravity`` is G of the group; stresses and modulus in psi."""

    name: str
    title: str
    gravity: float
    bearing_psi: float
    modulus_psi: float
    basis: Basis = MEMORY


SPECIES: dict[str, Species] = {
    "SPF-S": Species("SPF-S", "Spruce-Pine-Fir (South)", 0.36, 335, 1_100_000),
    "SPF": Species("SPF", "Spruce-Pine-Fir", 0.42, 425, 1_400_000),
    "HF": Species("HF", "Hem-Fir", 0.43, 405, 1_300_000),
    "DFL": Species("DFL", "Douglas Fir-Larch", 0.50, 625, 1_600_000),
    "SYP": Species("SYP", "Southern Pine", 0.55, 565, 1_400_000),
}
#: Other spellings that surveys carry.
SPECIES_ALIASES: dict[str, str] = {
    "DF": "DFL",
    "DF-L": "DFL",
    "DOUGLAS FIR": "DFL",
    "DOUGLAS FIR-LARCH": "DFL",
    "SP": "SYP",
    "SOUTHERN PINE": "SYP",
    "HEM-FIR": "HF",
    "SPRUCE-PINE-FIR": "SPF",
    "SPFS": "SPF-S",
    "SPRUCE-PINE-FIR (SOUTH)": "SPF-S",
}
#: The weakest group of the table stands in where the species is not known.
UNKNOWN_SPECIES = "SPF-S"


def species_named(name: str | None) -> Species | None:
    """Return the group of that name, None for an unknown one."""
    if name is None:
        return None
    key = name.strip().upper()
    return SPECIES.get(SPECIES_ALIASES.get(key, key))


def dressed_size_in(size: str | None) -> tuple[float, float] | None:
    """Return (thickness, depth) in inches of a nominal size such as 2x10; None if unknown."""
    parts = (size or "").lower().replace("×", "x").replace(" ", "").split("x")
    if len(parts) != 2 or not all(part.isdigit() for part in parts):
        return None
    thickness, depth = int(parts[0]), int(parts[1])
    if thickness not in DRESSED_THICKNESS_IN or depth not in DRESSED_DEPTH_IN:
        return None
    return DRESSED_THICKNESS_IN[thickness], DRESSED_DEPTH_IN[depth]
