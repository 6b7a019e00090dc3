"""Lateral soil loads by USCS class: three published tables, kept apart and never mixed.

Numbers are equivalent fluid weights in psf per foot of depth. ``read`` means seen in a public
text of the named document; ``from memory, confirm`` means recalled and to be held against the
printed table before it is relied on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from contractor.engine.data.basis import MEMORY, READ, Basis

SoilTableName = Literal["IBC 2021", "ASCE 7-16", "HUD"]

#: Note b of the IBC table: unsuitable as backfill (from memory, confirm).
UNSUITABLE: tuple[str, ...] = ("OL", "MH", "CH", "OH")


@dataclass(frozen=True)
class SoilRow:
    """``at_rest`` is None where the document gives no such value."""

    active_psf_per_ft: float
    at_rest_psf_per_ft: float | None
    basis: Basis


@dataclass(frozen=True)
class SoilTable:
    name: SoilTableName
    clause: str
    source: str
    rows: dict[str, SoilRow]


IBC = SoilTable(
    "IBC 2021",
    "IBC 2021 Table 1610.1",
    "IBC 2021 Table 1610.1: rows GW to GC read in the Virginia Construction Code 2021 text, "
    "CL in a public transcription of the California code; the other rows from memory",
    {
        "GW": SoilRow(30, 60, READ),
        "GP": SoilRow(30, 60, READ),
        "GM": SoilRow(40, 60, READ),
        "GC": SoilRow(45, 60, READ),
        "SW": SoilRow(30, 60, READ),
        "SP": SoilRow(30, 60, READ),
        "SM": SoilRow(45, 60, MEMORY),
        "SM-SC": SoilRow(45, 100, MEMORY),
        "SC": SoilRow(60, 100, MEMORY),
        "ML": SoilRow(45, 100, MEMORY),
        "ML-CL": SoilRow(60, 100, MEMORY),
        "CL": SoilRow(60, 100, READ),
    },
)

ASCE = SoilTable(
    "ASCE 7-16",
    "ASCE 7-16 Table 3.2-1",
    "ASCE 7-10 and -16 Table 3.2-1 from memory; rigid walls: sands and gravels 60, silts and "
    "clays 100",
    {
        "GW": SoilRow(35, 60, MEMORY),
        "GP": SoilRow(35, 60, MEMORY),
        "GM": SoilRow(35, 60, MEMORY),
        "SW": SoilRow(35, 60, MEMORY),
        "SP": SoilRow(35, 60, MEMORY),
        "GC": SoilRow(45, 60, MEMORY),
        "SM": SoilRow(45, 60, MEMORY),
        "SM-SC": SoilRow(85, 100, MEMORY),
        "SC": SoilRow(85, 100, MEMORY),
        "ML": SoilRow(85, 100, MEMORY),
        "ML-CL": SoilRow(85, 100, MEMORY),
        "CL": SoilRow(100, 100, MEMORY),
    },
)

#: HUD gives 60 to non-expansive MH and CH too; this service stops at those classes all the same.
HUD = SoilTable(
    "HUD",
    "HUD Residential Structural Design Guide, Table 3.4",
    "HUD Residential Structural Design Guide, density by soil type, table read as reproduced; "
    "well drained, less than 10 ft of fill, light compaction",
    {name: SoilRow(30, None, READ) for name in ("GW", "GP", "GM", "SW", "SP")}
    | {name: SoilRow(35, None, READ) for name in ("GC", "SM")}
    | {name: SoilRow(45, None, READ) for name in ("SM-SC", "SC", "ML", "ML-CL")}
    | {"CL": SoilRow(60, None, READ)},
)

TABLES: dict[str, SoilTable] = {table.name: table for table in (IBC, ASCE, HUD)}

#: Moist unit weight in pcf by class (HUD Residential Structural Design Guide, same table, read).
MOIST_PCF: dict[str, float] = {
    **dict.fromkeys(("GW", "GP", "GM", "SW", "SP"), 115.0),
    **dict.fromkeys(("GC", "SM", "SM-SC", "SC", "ML", "ML-CL", "CL"), 100.0),
}
#: Flood-prone or saturated ground: equivalent fluid weight 80 to 90 pcf (HUD, read).
SATURATED_PSF_PER_FT = 90.0
