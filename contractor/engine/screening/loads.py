"""Pressure on the wall over its height, and the load that each brace takes from it.

Heights are inches above the top of the slab, pressures psf. Every part is piecewise linear, so
any combination of soil, water and surcharge is a list of straight segments.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from contractor.engine.screening.soil import WATER_PCF, EquivalentFluid
from contractor.engine.screening.statics import Segment

TICKS_PER_INCH = 64


@dataclass(frozen=True)
class Ground:
    """What stands behind the wall. ``water_in``: height of the water table above the slab."""

    fill_in: float
    fluid: EquivalentFluid
    water_in: float = 0.0
    surcharge_psf: float = 0.0
    saturated_pcf: float = 125.0


@dataclass(frozen=True)
class Layer:
    """A straight piece of the pressure diagram, from the bottom up."""

    bottom_in: float
    top_in: float
    bottom_psf: float
    top_psf: float


def pressure_layers(ground: Ground) -> tuple[Layer, ...]:
    """Return the pressure diagram bottom up: below the water table, then above it.

    Above the water: EFP z + K q. Below: K (gamma_sat - gamma_w) + gamma_w per foot, so buoyant
    soil plus water (IBC 2021 1610.1, read).
    """
    water = min(max(ground.water_in, 0.0), ground.fill_in)
    fluid = ground.fluid
    at_grade = fluid.coefficient * ground.surcharge_psf
    at_water = at_grade + fluid.psf_per_ft * (ground.fill_in - water) / 12
    buoyant = fluid.coefficient * (ground.saturated_pcf - WATER_PCF)
    at_slab = at_water + (buoyant + WATER_PCF) * water / 12
    layers = []
    if water > 0:
        layers.append(Layer(0.0, water, at_slab, at_water))
    if ground.fill_in > water:
        layers.append(Layer(water, ground.fill_in, at_water, at_grade))
    return tuple(layers)


def pressure_at(layers: Sequence[Layer], height_in: float) -> float:
    """Return the pressure in psf at a height above the slab; zero above the fill."""
    for layer in layers:
        if layer.bottom_in <= height_in <= layer.top_in:
            share = (height_in - layer.bottom_in) / (layer.top_in - layer.bottom_in)
            return layer.bottom_psf + share * (layer.top_psf - layer.bottom_psf)
    return 0.0


def unit_segments(layers: Sequence[Layer], span_in: float) -> tuple[Segment, ...]:
    """Return the load on a brace per inch of tributary width, cut off at the top support.

    A pressure of one psf over one inch of width is 1/144 lbf per inch of brace.
    """
    segments = []
    for layer in layers:
        if layer.bottom_in >= span_in:
            break
        top = min(layer.top_in, span_in)
        top_psf = pressure_at((layer,), top)
        segments.append(Segment(layer.bottom_in, top, layer.bottom_psf / 144, top_psf / 144))
    return tuple(segments)


def tributary_ticks(at_ticks: Sequence[int], length_ticks: int) -> tuple[int, ...]:
    """Return each brace's width of wall, in ticks, rounded up to a whole tick.

    Half of each neighbouring bay; the bay between a corner and the end brace is shared half
    and half with the return wall.
    """
    edges = [0, *at_ticks, length_ticks]
    return tuple(-(-(edges[index + 2] - edges[index]) // 2) for index in range(len(at_ticks)))
