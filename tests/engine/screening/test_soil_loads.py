"""Soil tables kept apart, the at-rest rule, and pressure with water and surcharge."""

from __future__ import annotations

import pytest

from contractor.engine.data.soils import ASCE, HUD, IBC, SATURATED_PSF_PER_FT
from contractor.engine.screening.loads import (
    Ground,
    pressure_at,
    pressure_layers,
    tributary_ticks,
    unit_segments,
)
from contractor.engine.screening.soil import fluid_given, fluid_of_class, pressure_case
from contractor.engine.screening.statics import simply_supported


def test_tables_differ_and_are_never_mixed() -> None:
    """IBC 2021 1610.1 (read), ASCE 7-16 3.2-1 (memory), HUD guide (read)."""
    assert [IBC.rows["CL"].active_psf_per_ft, ASCE.rows["CL"].active_psf_per_ft] == [60, 100]
    assert [IBC.rows["GW"].active_psf_per_ft, ASCE.rows["GW"].active_psf_per_ft] == [30, 35]
    assert HUD.rows["SM"].active_psf_per_ft == 35
    assert {row.basis for row in ASCE.rows.values()} == {"from memory, confirm"}
    assert SATURATED_PSF_PER_FT == 90  # HUD, flood-prone: 80 to 90 pcf (read)


def test_every_value_names_its_clause_and_basis() -> None:
    read, memory = fluid_of_class("CL", "IBC 2021", 6), fluid_of_class("SC", "IBC 2021", 6)
    assert read is not None and memory is not None
    assert (read.clause, read.basis) == ("IBC 2021 Table 1610.1", "read")
    assert memory.basis == "from memory, confirm"


@pytest.mark.parametrize(
    ("fill_ft", "is_flexible", "at_rest"),
    [(8.0, True, False), (8.01, True, True), (4.0, False, True)],
)
def test_at_rest_unless_low_and_flexible(fill_ft: float, is_flexible: bool, at_rest: bool) -> None:
    """IBC 2021 1610.1 and its exception (read)."""
    assert pressure_case(fill_ft, is_flexible)[0] is at_rest


def test_hud_gives_no_at_rest_value() -> None:
    assert fluid_of_class("GW", "HUD", 6.0) is not None
    assert fluid_of_class("GW", "HUD", 9.0) is None


def test_dry_pressure_is_a_triangle() -> None:
    """60 psf/ft over 7 ft: 420 psf, 1470 lbf/ft at h/3 (statics)."""
    layers = pressure_layers(Ground(84.0, fluid_given(60.0)))
    found = simply_supported(unit_segments(layers, 84.0), 84.0)
    assert layers[0].bottom_psf == 420
    assert found.total_lbf * 12 == pytest.approx(1470)
    assert found.top_lbf * 84 / found.total_lbf == pytest.approx(28.0)


def test_water_adds_to_buoyant_soil() -> None:
    """K gamma above, K (gamma_sat - 62.4) + 62.4 below the water table (IBC 1610.1, read)."""
    fluid = fluid_given(55.0)  # K = 0.5 at 110 pcf
    layers = pressure_layers(Ground(96.0, fluid, water_in=48.0))
    at_water = 55 * 4
    at_slab = at_water + (0.5 * (125 - 62.4) + 62.4) * 4
    assert pressure_at(layers, 48.0) == pytest.approx(at_water)
    assert pressure_at(layers, 0.0) == pytest.approx(at_slab)
    assert pressure_at(layers, 97.0) == 0


def test_surcharge_adds_a_rectangle() -> None:
    """Resultant K q h at h/2 (from memory)."""
    plain = pressure_layers(Ground(72.0, fluid_given(55.0)))
    loaded = pressure_layers(Ground(72.0, fluid_given(55.0), surcharge_psf=100.0))
    for height in (0.0, 30.0, 72.0):
        extra = pressure_at(loaded, height) - pressure_at(plain, height)
        assert extra == pytest.approx(50.0)


def test_load_above_the_top_support_is_cut_off() -> None:
    layers = pressure_layers(Ground(96.0, fluid_given(60.0)))
    (segment,) = unit_segments(layers, 84.0)
    assert segment.end_in == 84.0
    assert segment.end_lbf_per_in * 144 == pytest.approx(60.0)


def test_tributary_widths_cover_the_wall_but_for_the_corners() -> None:
    at, length = [36 * 64, 96 * 64, 168 * 64], 204 * 64
    widths = tributary_ticks(at, length)
    assert [width / 64 for width in widths] == [48, 66, 54]
    assert sum(widths) == length - at[0] / 2 - (length - at[-1]) / 2
