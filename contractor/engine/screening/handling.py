"""Lifting a beam: revised NIOSH lifting equation (DHHS 94-110). in, lb."""

from __future__ import annotations

import math
from dataclasses import dataclass

LOAD_CONSTANT_LB = 51.0


@dataclass(frozen=True)
class Lift:
    """Hands at ``vertical_in`` above the floor, moved up by ``travel_in``; see the manual.

    Defaults: a beam lying on the floor taken up to waist height close to the body, no twist,
    now and then, fair grip (common practice of the crew).
    """

    horizontal_in: float = 12.0
    vertical_in: float = 6.0
    travel_in: float = 30.0
    asymmetry_deg: float = 0.0
    frequency: float = 1.0
    coupling: float = 0.95


def recommended_limit_lb(lift: Lift) -> float:
    """Return RWL = 51 HM VM DM AM FM CM for one person (AM from memory, confirm)."""
    horizontal = min(1.0, 10 / max(lift.horizontal_in, 10.0))
    vertical = 1 - 0.0075 * abs(lift.vertical_in - 30)
    travel = min(1.0, 0.82 + 1.8 / max(lift.travel_in, 10.0))
    twist = 1 - 0.0032 * lift.asymmetry_deg
    return (
        LOAD_CONSTANT_LB * horizontal * vertical * travel * twist * lift.frequency * lift.coupling
    )


@dataclass(frozen=True)
class Handling:
    beam_weight_lb: float
    limit_lb: float
    lifters: int

    @property
    def lifting_index(self) -> float:
        return self.beam_weight_lb / self.lifters / self.limit_lb

    @property
    def lifters_needed(self) -> int:
        return math.ceil(self.beam_weight_lb / self.limit_lb)


def handling(weight_lb_per_ft: float, length_in: float, lifters: int) -> Handling:
    """Return weight, limit and lifting index of one beam shared by ``lifters``."""
    return Handling(weight_lb_per_ft * length_in / 12, recommended_limit_lb(Lift()), lifters)
