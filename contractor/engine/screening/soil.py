"""Equivalent fluid weight of the soil: which table, and at-rest or active by the code's rule."""

from __future__ import annotations

import math
from dataclasses import dataclass

from contractor.engine.data.basis import ASSUMED, MEASURED, Basis
from contractor.engine.data.soils import MOIST_PCF, TABLES, UNSUITABLE, SoilTable

#: Exception of IBC 2021 1610.1 (read): active pressure allowed up to this depth below grade.
FLEXIBLE_TOP_MAX_FILL_FT = 8.0
WATER_PCF = 62.4
DEFAULT_MOIST_PCF = 110.0


@dataclass(frozen=True)
class EquivalentFluid:
    """Lateral pressure per foot of depth, and where the number comes from."""

    psf_per_ft: float
    is_at_rest: bool
    clause: str
    basis: Basis
    rule: str
    moist_pcf: float
    uscs: str | None = None

    @property
    def coefficient(self) -> float:
        """Return K, the lateral pressure over the vertical one."""
        return self.psf_per_ft / self.moist_pcf


def is_unsuitable(uscs: str) -> bool:
    """Return whether IBC Table 1610.1 note b calls the class unsuitable as backfill."""
    return uscs.upper() in UNSUITABLE


def active_coefficient(friction_deg: float) -> float:
    """Return Rankine Ka = tan2(45 - phi/2), level backfill, smooth wall."""
    return math.tan(math.radians(45 - friction_deg / 2)) ** 2


def passive_coefficient(friction_deg: float) -> float:
    """Return Rankine Kp = 1/Ka."""
    return 1 / active_coefficient(friction_deg)


def at_rest_coefficient(friction_deg: float) -> float:
    """Return Jaky K0 = 1 - sin phi."""
    return 1 - math.sin(math.radians(friction_deg))


def resultant_plf(psf_per_ft: float, fill_ft: float) -> tuple[float, float]:
    """Return the triangular resultant in lbf per foot of wall and its height above the base."""
    return psf_per_ft * fill_ft**2 / 2, fill_ft / 3


def pressure_case(fill_ft: float, is_top_flexible: bool) -> tuple[bool, str]:
    """Return whether at-rest pressure governs, and the words of the rule that says so.

    IBC 2021 1610.1 (read): at rest where the top is held; active where the wall is no more
    than 8 ft below grade and a flexible diaphragm holds its top.
    """
    if is_top_flexible and fill_ft <= FLEXIBLE_TOP_MAX_FILL_FT:
        return False, (
            "active pressure: no more than 8 ft below grade, top held by a flexible diaphragm "
            "(IBC 2021 1610.1, exception)"
        )
    return True, "at-rest pressure: the top is held against movement (IBC 2021 1610.1)"


def fluid_of_class(
    uscs: str, table_name: str, fill_ft: float, is_top_flexible: bool = True
) -> EquivalentFluid | None:
    """Return the tabulated fluid of a class; None for a class without a value.

    Unsuitable and unknown classes have none, nor has an at-rest case in a table without it.
    """
    table: SoilTable = TABLES[table_name]
    row = table.rows.get(uscs.upper())
    at_rest, rule = pressure_case(fill_ft, is_top_flexible)
    if row is None or is_unsuitable(uscs):
        return None
    value = row.at_rest_psf_per_ft if at_rest else row.active_psf_per_ft
    if value is None:
        return None
    moist = MOIST_PCF.get(uscs.upper(), DEFAULT_MOIST_PCF)
    return EquivalentFluid(value, at_rest, table.clause, row.basis, rule, moist, uscs.upper())


def fluid_given(psf_per_ft: float) -> EquivalentFluid:
    """Return the fluid weight that the survey itself gives."""
    rule = "equivalent fluid weight as given in the survey"
    return EquivalentFluid(psf_per_ft, False, "survey", MEASURED, rule, DEFAULT_MOIST_PCF)


def fluid_assumed(psf_per_ft: float) -> EquivalentFluid:
    """Return the stated stand-in for an unknown soil; the outcome is review all the same."""
    rule = "soil not known: stated assumption, for orientation only"
    return EquivalentFluid(psf_per_ft, False, "assumption", ASSUMED, rule, DEFAULT_MOIST_PCF)
